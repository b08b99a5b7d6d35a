#ifndef LATCHPROOF_STILL_H
#define LATCHPROOF_STILL_H

#include "libav.h"

// lp_still decodes pictures that come one by one.
typedef struct {
	lp_input in;
	lp_decoder *dec; // NULL: the pictures are not coded
	int format, w, h;
} lp_still;

int lp_still_open(lp_still **out, enum AVCodecID codec, enum AVPixelFormat format, int w, int h);
void lp_still_close(lp_still **still);
int lp_still_decode(lp_still *still, const uint8_t *data, int size, AVFrame *frame, int *bad);

int lp_raw_size(enum AVPixelFormat format, int w, int h);
int lp_raw_planes(const uint8_t *data, enum AVPixelFormat format, AVFrame *to);

#endif
