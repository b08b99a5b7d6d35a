#include "resample.h"

#include <string.h>

#ifdef __SSE2__
#include <emmintrin.h>
#endif

// On Linux the better of two versions is chosen when the program starts.
#if defined(__x86_64__) && defined(__linux__)
#define LP_WIDE __attribute__((target_clones("avx2", "default")))
#else
#define LP_WIDE
#endif

enum { ROWS = 8 }; // rows of the raster that are made together

// cut is a product in 1/256 of a level.
static inline uint16_t cut(uint8_t level, unsigned weight) { return (uint32_t)(level << 8) * weight >> 16; }

// blend sets acc to bias and the weighted rows, in 1/256 of a level, or adds
// one row to it. Every product is cut to a whole number, which bias makes up for
// in the mean. The compiler does not find the instruction for the upper half of
// a product by itself.
#ifdef __SSE2__
static inline __m128i low(__m128i v, __m128i w) { return _mm_mulhi_epu16(_mm_unpacklo_epi8(_mm_setzero_si128(), v), w); }
static inline __m128i high(__m128i v, __m128i w) { return _mm_mulhi_epu16(_mm_unpackhi_epi8(_mm_setzero_si128(), v), w); }
#endif

static void blend(uint16_t *restrict acc, const uint8_t *restrict row, unsigned weight, unsigned bias, int n, int fresh)
{
	int i = 0;
#ifdef __SSE2__
	const __m128i w = _mm_set1_epi16((short)weight), first = _mm_set1_epi16((short)bias);
	for (; i + 16 <= n; i += 16) {
		__m128i v = _mm_loadu_si128((const __m128i *)(row + i)), *to = (__m128i *)(acc + i);
		__m128i a = fresh ? first : _mm_loadu_si128(to), b = fresh ? first : _mm_loadu_si128(to + 1);
		_mm_storeu_si128(to, _mm_add_epi16(a, low(v, w)));
		_mm_storeu_si128(to + 1, _mm_add_epi16(b, high(v, w)));
	}
#endif
	for (; i < n; i++)
		acc[i] = (fresh ? bias : acc[i]) + cut(row[i], weight);
}

static void blend3(uint16_t *restrict acc, const uint8_t *const row[3], const uint16_t weight[3], unsigned bias, int n)
{
	int i = 0;
#ifdef __SSE2__
	const __m128i w0 = _mm_set1_epi16((short)weight[0]), w1 = _mm_set1_epi16((short)weight[1]), w2 = _mm_set1_epi16((short)weight[2]);
	const __m128i first = _mm_set1_epi16((short)bias);
	for (; i + 16 <= n; i += 16) {
		__m128i a = _mm_loadu_si128((const __m128i *)(row[0] + i)), b = _mm_loadu_si128((const __m128i *)(row[1] + i));
		__m128i c = _mm_loadu_si128((const __m128i *)(row[2] + i)), *to = (__m128i *)(acc + i);
		_mm_storeu_si128(to, _mm_add_epi16(_mm_add_epi16(first, low(a, w0)), _mm_add_epi16(low(b, w1), low(c, w2))));
		_mm_storeu_si128(to + 1, _mm_add_epi16(_mm_add_epi16(first, high(a, w0)), _mm_add_epi16(high(b, w1), high(c, w2))));
	}
#endif
	for (; i < n; i++)
		acc[i] = bias + cut(row[0][i], weight[0]) + cut(row[1][i], weight[1]) + cut(row[2][i], weight[2]);
}

#ifdef __SSE2__
typedef __m128i eight;
static inline eight eight_of(unsigned v) { return _mm_set1_epi16((short)v); }
static inline eight eight_add(eight a, eight b) { return _mm_add_epi16(a, b); }
static inline eight eight_high(eight a, unsigned w) { return _mm_mulhi_epu16(a, _mm_set1_epi16((short)w)); }

// turn transposes 8x8 numbers.
static inline void turn(eight r[8])
{
	__m128i a[8], b[8];
	for (int i = 0; i < 4; i++) {
		a[2 * i] = _mm_unpacklo_epi16(r[i], r[i + 4]);
		a[2 * i + 1] = _mm_unpackhi_epi16(r[i], r[i + 4]);
	}
	for (int i = 0; i < 4; i++) {
		b[2 * i] = _mm_unpacklo_epi16(a[i], a[i + 4]);
		b[2 * i + 1] = _mm_unpackhi_epi16(a[i], a[i + 4]);
	}
	for (int i = 0; i < 4; i++) {
		r[2 * i] = _mm_unpacklo_epi16(b[i], b[i + 4]);
		r[2 * i + 1] = _mm_unpackhi_epi16(b[i], b[i + 4]);
	}
}
#else
typedef struct { uint16_t v[8]; } eight;
static inline eight eight_of(unsigned v) { eight r; for (int i = 0; i < 8; i++) r.v[i] = v; return r; }
static inline eight eight_add(eight a, eight b) { for (int i = 0; i < 8; i++) a.v[i] += b.v[i]; return a; }
static inline eight eight_high(eight a, unsigned w) { for (int i = 0; i < 8; i++) a.v[i] = (uint32_t)a.v[i] * w >> 16; return a; }
static inline void turn(eight r[8])
{
	eight t[8];
	for (int i = 0; i < 8; i++)
		for (int j = 0; j < 8; j++)
			t[j].v[i] = r[i].v[j];
	memcpy(r, t, sizeof t);
}
#endif

static int round8(int n) { return (n + 7) & ~7; }

// lp_resample_scratch is how many bytes lp_resample needs to work with.
size_t lp_resample_scratch(int columns, int width)
{
	size_t rows = (size_t)round8(columns) * ROWS * 2; // blended rows, and the same turned
	size_t out = (size_t)round8(width) * ROWS * 2;
	return 2 * rows + out + 4 * (size_t)round8(columns) + 64;
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
	int columns = right - left, pitch = round8(columns);
	scratch += 15 & -(uintptr_t)scratch;
	uint16_t *acc = (uint16_t *)scratch;
	eight *turned = (eight *)(acc + (size_t)pitch * ROWS);
	eight *made = turned + pitch;
	uint8_t *plain[3];
	for (int i = 0; i < 3; i++)
		plain[i] = (uint8_t *)(made + round8(width)) + (size_t)i * pitch;

	memset(acc, 0, (size_t)pitch * ROWS * 2);
	for (int y0 = 0; y0 < height; y0 += ROWS) {
		int rows = height - y0 < ROWS ? height - y0 : ROWS;
		for (int r = 0; r < rows; r++) {
			const uint16_t *w = yweight + (size_t)(y0 + r) * ytaps;
			const uint8_t *row[3];
			int t = 0;
			uint16_t *to = acc + (size_t)r * pitch;
			for (int fresh = 1; t < ytaps || fresh; fresh = 0) {
				int many = ytaps - t >= 3 && fresh ? 3 : 1;
				for (int i = 0; i < many; i++) {
					row[i] = src->data + (ptrdiff_t)(yfirst[y0 + r] + t + i) * src->stride + (ptrdiff_t)left * src->step;
					if (src->step != 1) {
						for (int x = 0; x < columns; x++)
							plain[i][x] = row[i][(ptrdiff_t)x * src->step];
						row[i] = plain[i];
					}
				}
				if (many == 3)
					blend3(to, row, w + t, ybias[y0 + r], columns);
				else if (w[t] || fresh)
					blend(to, row[0], w[t], ybias[y0 + r], columns, fresh);
				t += many;
			}
		}
		for (int x = 0; x < columns; x += 8) {
			eight block[8];
			for (int r = 0; r < 8; r++)
				memcpy(&block[r], acc + (size_t)r * pitch + x, 16);
			turn(block);
			memcpy(turned + x, block, sizeof block);
		}
		for (int x = 0; x < width; x++) {
			const eight *from = turned + (xfirst[x] - left);
			const uint16_t *w = xweight + (size_t)x * xtaps;
			eight sum = eight_of(xbias[x]);
			for (int t = 0; t < xtaps; t++)
				sum = eight_add(sum, eight_high(from[t], w[t]));
			made[x] = sum;
		}
		for (int x = 0; x < width; x += 8) {
			eight block[8];
			int n = width - x < 8 ? width - x : 8;
			memcpy(block, made + x, sizeof block);
			turn(block);
			for (int r = 0; r < rows; r++)
				memcpy(out + (size_t)(y0 + r) * width + x, &block[r], (size_t)n * 2);
		}
	}
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
