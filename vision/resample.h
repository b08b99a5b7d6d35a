#ifndef LATCHPROOF_RESAMPLE_H
#define LATCHPROOF_RESAMPLE_H

#include <stddef.h>
#include <stdint.h>

#include "libav.h"

struct SwsContext;

// lp_plane is one component of a picture: w by h samples of 8 bits, step bytes
// apart in a row, rows stride bytes apart.
typedef struct {
	const uint8_t *data;
	ptrdiff_t stride;
	int step, w, h;
} lp_plane;

// lp_layout says where the components are: Y, Cb, Cr or R, G, B or Y alone.
typedef struct {
	lp_plane plane[3];
	int planes;
	int rgb;
	int shift_x, shift_y; // of the second and third, as powers of two
	int full;             // range
} lp_layout;

int lp_layout_of(const AVFrame *frame, lp_layout *out);
int lp_simplify(const AVFrame *frame, AVFrame *out, struct SwsContext **sws);
int lp_to_bgr(const AVFrame *frame, uint8_t *bgr, struct SwsContext **sws);

void lp_resample(const lp_plane *src, int left, int right,
	const int32_t *yfirst, const uint16_t *yweight, const uint16_t *ybias, int ytaps, int height,
	const int32_t *xfirst, const uint16_t *xweight, const uint16_t *xbias, int xtaps, int width,
	uint16_t *out, uint8_t *scratch);
size_t lp_resample_scratch(int columns, int width);

// The ways to do it.
enum { LP_PLAIN = 1, LP_SSE2 = 2, LP_AVX2 = 4 };
int lp_resample_ways(int allowed);

void lp_colour(const uint16_t *a, const uint16_t *b, const uint16_t *c, int n,
	const int32_t m[9], const int32_t from[3], const int32_t to[3], uint8_t *y, uint8_t *cb, uint8_t *cr);

#endif
