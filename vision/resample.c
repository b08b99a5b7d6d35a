#include "resample.h"

#include <string.h>

#ifdef __SSE2__
#include <immintrin.h>
#endif

#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__)
#define WITH_AVX2
#endif

// On Linux the better of two versions is chosen when the program starts.
#if defined(__x86_64__) && defined(__linux__)
#define LP_WIDE __attribute__((target_clones("avx2", "default")))
#else
#define LP_WIDE
#endif

// cut is a product in 1/256 of a level.
static inline uint16_t cut(uint8_t level, unsigned weight) { return (uint32_t)(level << 8) * weight >> 16; }

static int round8(int n) { return (n + 7) & ~7; }

enum { MOST_ROWS = 16 }; // rows of the raster that are made together, at most

// lp_resample_scratch is how many bytes lp_resample needs to work with.
size_t lp_resample_scratch(int columns, int width)
{
	size_t rows = (size_t)round8(columns) * MOST_ROWS * 2; // blended rows, and the same turned
	size_t out = (size_t)round8(width) * MOST_ROWS * 2;
	return 2 * rows + out + 3 * (size_t)round8(columns) + 64;
}

// AHEAD is how many rows of the raster ahead samples are fetched: they come from
// another core, and the machine does not foresee what lies past the end of a row.
enum { AHEAD = 8 };

static inline void fetch(const lp_plane *src, int left, int right, int first, int rows)
{
	const char *row = (const char *)src->data + (ptrdiff_t)first * src->stride + (ptrdiff_t)left * src->step;
	ptrdiff_t bytes = (ptrdiff_t)(right - left) * src->step;
	for (int i = 0; i < rows; i++, row += src->stride)
		for (ptrdiff_t x = 0; x < bytes; x += 64)
			__builtin_prefetch(row + x, 0, 2);
}

// The same in three ways, which give the same numbers (resample_test.go).
#define KIND plain
#define ROWS 8
#include "resample_band.h"
#undef KIND
#undef ROWS

#ifdef __SSE2__
#define KIND sse2
#define ROWS 8
#define SSE2
#include "resample_band.h"
#undef KIND
#undef ROWS
#undef SSE2
#endif

#ifdef WITH_AVX2
#pragma GCC push_options
#pragma GCC target("avx2")
#define KIND avx2
#define ROWS 16
#define AVX2
#include "resample_band.h"
#undef KIND
#undef ROWS
#undef AVX2
#pragma GCC pop_options
#endif

// ways is what of LP_PLAIN, LP_SSE2 and LP_AVX2 may be used.
static int ways = LP_PLAIN | LP_SSE2 | LP_AVX2;

// lp_resample_ways allows only some of the ways, and says which of them this
// machine can do. It is for the tests.
int lp_resample_ways(int allowed)
{
	int can = LP_PLAIN;
#ifdef __SSE2__
	can |= LP_SSE2;
#endif
#ifdef WITH_AVX2
	if (__builtin_cpu_supports("avx2"))
		can |= LP_AVX2;
#endif
	__atomic_store_n(&ways, allowed, __ATOMIC_RELAXED);
	return can & allowed;
}

// lp_resample brings columns left..right of src to width by height numbers in
// 1/256 of a level: number (x, y) is the sum over its taps, from sample
// xfirst[x] in row yfirst[y], weights in 1/65536. The caller has checked that
// all of these are inside src and left..right.
void lp_resample(const lp_plane *src, int left, int right,
	const int32_t *yfirst, const uint16_t *yweight, const uint16_t *ybias, int ytaps, int height,
	const int32_t *xfirst, const uint16_t *xweight, const uint16_t *xbias, int xtaps, int width,
	uint16_t *out, uint8_t *scratch)
{
	int allowed = __atomic_load_n(&ways, __ATOMIC_RELAXED);
	(void)allowed;
#ifdef WITH_AVX2
	if (allowed & LP_AVX2 && __builtin_cpu_supports("avx2")) {
		resample_avx2(src, left, right, yfirst, yweight, ybias, ytaps, height, xfirst, xweight, xbias, xtaps, width, out, scratch);
		return;
	}
#endif
#ifdef __SSE2__
	if (allowed & LP_SSE2) {
		resample_sse2(src, left, right, yfirst, yweight, ybias, ytaps, height, xfirst, xweight, xbias, xtaps, width, out, scratch);
		return;
	}
#endif
	resample_plain(src, left, right, yfirst, yweight, ybias, ytaps, height, xfirst, xweight, xbias, xtaps, width, out, scratch);
}

static inline uint8_t level(int32_t v)
{
	v = (v + (1 << 21)) >> 22;
	return v < 0 ? 0 : v > 255 ? 255 : v;
}

// lp_colour turns n colours in 1/256 of a level into levels:
// to + m·(colour − from), m in 1/16384.
LP_WIDE
void lp_colour(const uint16_t *restrict a, const uint16_t *restrict b, const uint16_t *restrict c, int n,
	const int32_t m[9], const int32_t from[3], const int32_t to[3], uint8_t *restrict y, uint8_t *restrict cb, uint8_t *restrict cr)
{
	int32_t m0 = m[0], m1 = m[1], m2 = m[2], m3 = m[3], m4 = m[4], m5 = m[5], m6 = m[6], m7 = m[7], m8 = m[8];
	int32_t f0 = from[0], f1 = from[1], f2 = from[2], t0 = to[0] << 14, t1 = to[1] << 14, t2 = to[2] << 14;
	if (!m1 && !m2 && !m3 && !m5 && !m6 && !m7) { // nothing is mixed
		for (int i = 0; i < n; i++)
			y[i] = level(t0 + m0 * (a[i] - f0));
		for (int i = 0; i < n; i++)
			cb[i] = level(t1 + m4 * (b[i] - f1));
		for (int i = 0; i < n; i++)
			cr[i] = level(t2 + m8 * (c[i] - f2));
		return;
	}
	for (int i = 0; i < n; i++) {
		int32_t u = a[i] - f0, v = b[i] - f1, w = c[i] - f2;
		y[i] = level(t0 + m0 * u + m1 * v + m2 * w);
		cb[i] = level(t1 + m3 * u + m4 * v + m5 * w);
		cr[i] = level(t2 + m6 * u + m7 * v + m8 * w);
	}
}
