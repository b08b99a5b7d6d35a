// The square root of numbers that are not negative sets no errno.
#pragma GCC optimize("no-math-errno")

#include "correlate.h"

#include <math.h>
#include <string.h>

#if defined(__x86_64__)
#include <immintrin.h>
#endif

// The functions that follow do the same: sums[x] is the sum, over all pairs of
// neighbouring template pixels, of both products with the picture. pairs holds
// pixels x and x+1 in the lower and upper half of number x; pitch is its width.
// across is a multiple of 32.
#if defined(__x86_64__)
__attribute__((target("avx2")))
static void products_avx2(const int32_t *pairs, ptrdiff_t pitch, int across, const int32_t *tpl, int tpairs, int th, int32_t *sums)
{
	for (int x = 0; x < across; x += 32) {
		__m256i s0 = _mm256_setzero_si256(), s1 = s0, s2 = s0, s3 = s0;
		for (int ty = 0; ty < th; ty++) {
			const int32_t *p = pairs + ty * pitch + x, *row = tpl + ty * tpairs;
			for (int t = 0; t < tpairs; t++, p += 2) {
				if (!row[t])
					continue;
				__m256i c = _mm256_set1_epi32(row[t]);
				s0 = _mm256_add_epi32(s0, _mm256_madd_epi16(c, _mm256_loadu_si256((const __m256i *)p)));
				s1 = _mm256_add_epi32(s1, _mm256_madd_epi16(c, _mm256_loadu_si256((const __m256i *)(p + 8))));
				s2 = _mm256_add_epi32(s2, _mm256_madd_epi16(c, _mm256_loadu_si256((const __m256i *)(p + 16))));
				s3 = _mm256_add_epi32(s3, _mm256_madd_epi16(c, _mm256_loadu_si256((const __m256i *)(p + 24))));
			}
		}
		_mm256_storeu_si256((__m256i *)(sums + x), s0);
		_mm256_storeu_si256((__m256i *)(sums + x + 8), s1);
		_mm256_storeu_si256((__m256i *)(sums + x + 16), s2);
		_mm256_storeu_si256((__m256i *)(sums + x + 24), s3);
	}
}

static void products_sse2(const int32_t *pairs, ptrdiff_t pitch, int across, const int32_t *tpl, int tpairs, int th, int32_t *sums)
{
	for (int x = 0; x < across; x += 16) {
		__m128i s0 = _mm_setzero_si128(), s1 = s0, s2 = s0, s3 = s0;
		for (int ty = 0; ty < th; ty++) {
			const int32_t *p = pairs + ty * pitch + x, *row = tpl + ty * tpairs;
			for (int t = 0; t < tpairs; t++, p += 2) {
				if (!row[t])
					continue;
				__m128i c = _mm_set1_epi32(row[t]);
				s0 = _mm_add_epi32(s0, _mm_madd_epi16(c, _mm_loadu_si128((const __m128i *)p)));
				s1 = _mm_add_epi32(s1, _mm_madd_epi16(c, _mm_loadu_si128((const __m128i *)(p + 4))));
				s2 = _mm_add_epi32(s2, _mm_madd_epi16(c, _mm_loadu_si128((const __m128i *)(p + 8))));
				s3 = _mm_add_epi32(s3, _mm_madd_epi16(c, _mm_loadu_si128((const __m128i *)(p + 12))));
			}
		}
		_mm_storeu_si128((__m128i *)(sums + x), s0);
		_mm_storeu_si128((__m128i *)(sums + x + 4), s1);
		_mm_storeu_si128((__m128i *)(sums + x + 8), s2);
		_mm_storeu_si128((__m128i *)(sums + x + 12), s3);
	}
}
#else
static void products(const int32_t *pairs, ptrdiff_t pitch, int across, const int32_t *tpl, int tpairs, int th, int32_t *sums)
{
	memset(sums, 0, (size_t)across * sizeof *sums);
	for (int ty = 0; ty < th; ty++)
		for (int t = 0; t < tpairs; t++) {
			int32_t c = tpl[ty * tpairs + t], a = (int16_t)c, b = c >> 16;
			const int32_t *p = pairs + ty * pitch + 2 * t;
			for (int x = 0; c && x < across; x++)
				sums[x] += a * (int16_t)p[x] + b * (p[x] >> 16);
		}
}
#endif

typedef void (*products_fn)(const int32_t *, ptrdiff_t, int, const int32_t *, int, int, int32_t *);

static products_fn best(void)
{
#if defined(__x86_64__)
	return __builtin_cpu_supports("avx2") ? products_avx2 : products_sse2;
#else
	return products;
#endif
}

static int round32(int n) { return (n + 31) & ~31; }
static int pitch_of(int across, int tw) { return round32(across) + tw + 2; }

// lp_correlate_scratch is how many bytes lp_correlate needs to work with.
size_t lp_correlate_scratch(int across, int down, int tw, int th)
{
	size_t pairs = (size_t)pitch_of(across, tw) * (down + th - 1);
	return 4 * (2 * pairs + 3 * (size_t)round32(across) + 2 * (size_t)((tw + 1) / 2) * th + 3 * (size_t)(across + tw));
}

// box sets sums and squares of all pixels under the template, for the places of
// a row: columns hold those of the th rows.
static void box(const int32_t *column, const int32_t *column2, int across, int tw, int32_t *si, int32_t *sq)
{
	int32_t a = 0, b = 0;
	for (int x = 0; x < across + tw - 1; x++) {
		a += column[x];
		b += column2[x];
		if (x >= tw) {
			a -= column[x - tw];
			b -= column2[x - tw];
		}
		if (x >= tw - 1) {
			si[x - tw + 1] = a;
			sq[x - tw + 1] = b;
		}
	}
}

// lp_correlate computes the score of the package documentation at across by
// down places, in whole numbers: n, sum and variance are of the template. The
// square root and the division are the only roundings. mask is NULL or has 0
// and 1. Pixels count from -128 for their squares, which are then at most 16384
// and fit 16 bits; tw·th is at most 32768, so that sums fit 32 bits.
void lp_correlate(const uint8_t *pic, ptrdiff_t stride, int across, int down,
	const uint8_t *luma, const uint8_t *mask, int tw, int th,
	int64_t n, int64_t sum, int64_t variance, uint8_t *scratch, double *scores)
{
	products_fn products = best();
	int wide = round32(across), pitch = pitch_of(across, tw), rows = down + th - 1, columns = across + tw - 1, tpairs = (tw + 1) / 2;
	int32_t *pairs = (int32_t *)scratch, *squares = pairs + (size_t)pitch * rows;
	int32_t *sti = squares + (size_t)pitch * rows, *si = sti + wide, *sq = si + wide;
	int32_t *tpl = sq + wide, *use = tpl + (size_t)tpairs * th;
	int32_t *column = use + (size_t)tpairs * th, *column2 = column + columns;

	for (int y = 0; y < rows; y++) {
		const uint8_t *p = pic + y * stride;
		int32_t *a = pairs + (ptrdiff_t)y * pitch, *b = squares + (ptrdiff_t)y * pitch;
		for (int x = 0; x < columns; x++) {
			int next = x + 1 < columns ? p[x + 1] : 0;
			a[x] = p[x] | next << 16;
			if (mask)
				b[x] = (p[x] - 128) * (p[x] - 128) | (next - 128) * (next - 128) << 16;
		}
		for (int x = columns; x < pitch; x++)
			a[x] = b[x] = 0;
	}
	for (int y = 0; y < th; y++)
		for (int t = 0; t < tpairs; t++) {
			int i = y * tw + 2 * t, second = 2 * t + 1 < tw;
			tpl[y * tpairs + t] = luma[i] | (second ? luma[i + 1] << 16 : 0);
			if (mask)
				use[y * tpairs + t] = mask[i] | (second ? mask[i + 1] << 16 : 0);
		}
	memset(column, 0, 2 * (size_t)columns * sizeof *column);
	for (int y = 0; y < th - 1 && !mask; y++)
		for (int x = 0; x < columns; x++) {
			int v = pic[y * stride + x];
			column[x] += v;
			column2[x] += (v - 128) * (v - 128);
		}
	const double N = n, S = sum, V = variance;
	for (int y = 0; y < down; y++) {
		products(pairs + (ptrdiff_t)y * pitch, pitch, wide, tpl, tpairs, th, sti);
		if (mask) {
			products(pairs + (ptrdiff_t)y * pitch, pitch, wide, use, tpairs, th, si);
			products(squares + (ptrdiff_t)y * pitch, pitch, wide, use, tpairs, th, sq);
		} else {
			const uint8_t *in = pic + (y + th - 1) * stride, *out = y ? pic + (y - 1) * stride : NULL;
			for (int x = 0; x < columns; x++) {
				column[x] += in[x] - (out ? out[x] : 0);
				column2[x] += (in[x] - 128) * (in[x] - 128) - (out ? (out[x] - 128) * (out[x] - 128) : 0);
			}
			box(column, column2, across, tw, si, sq);
		}
		double *to = scores + (ptrdiff_t)y * across;
		for (int x = 0; x < across; x++) {
			// All of these are whole numbers below 2^53.
			double s = si[x], spread = N * (sq[x] + 256 * s - 16384 * N) - s * s;
			double r = (N * sti[x] - S * s) / sqrt(V * (spread > 0 ? spread : 1));
			r = r < -1 ? -1 : r > 1 ? 1 : r;
			to[x] = spread > 0 ? r : 0;
		}
	}
}
