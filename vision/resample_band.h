// This is included by resample.c once for each way of doing the arithmetic: KIND
// is its name, ROWS is how many rows of the raster are made together, SSE2 or
// AVX2 is defined when its instructions are to be used.

#define PASTE(a, b) a##_##b
#define PASTE2(a, b) PASTE(a, b)
#define NAME(x) PASTE2(x, KIND)
#define column NAME(column)
#define column_of NAME(column_of)
#define column_add NAME(column_add)
#define column_high NAME(column_high)
#define gather NAME(gather)
#define scatter NAME(scatter)
#define turn NAME(turn)
#define blend NAME(blend)
#define resample NAME(resample)

// A column is one number of each of ROWS rows. column_high is the upper half of
// the product with w; the compiler does not find the instruction by itself.
#if defined(AVX2)
typedef __m256i column;
static inline column column_of(unsigned v) { return _mm256_set1_epi16((short)v); }
static inline column column_add(column a, column b) { return _mm256_add_epi16(a, b); }
static inline column column_high(column a, unsigned w) { return _mm256_mulhi_epu16(a, _mm256_set1_epi16((short)w)); }
#define LOW(a, b) _mm256_unpacklo_epi16(a, b)
#define HIGH(a, b) _mm256_unpackhi_epi16(a, b)
#elif defined(SSE2)
typedef __m128i column;
static inline column column_of(unsigned v) { return _mm_set1_epi16((short)v); }
static inline column column_add(column a, column b) { return _mm_add_epi16(a, b); }
static inline column column_high(column a, unsigned w) { return _mm_mulhi_epu16(a, _mm_set1_epi16((short)w)); }
#define LOW(a, b) _mm_unpacklo_epi16(a, b)
#define HIGH(a, b) _mm_unpackhi_epi16(a, b)
#else
typedef struct { uint16_t v[ROWS]; } column;
static inline column column_of(unsigned v) { column r; for (int i = 0; i < ROWS; i++) r.v[i] = v; return r; }
static inline column column_add(column a, column b) { for (int i = 0; i < ROWS; i++) a.v[i] += b.v[i]; return a; }
static inline column column_high(column a, unsigned w) { for (int i = 0; i < ROWS; i++) a.v[i] = (uint32_t)a.v[i] * w >> 16; return a; }
#endif

// turn transposes 8x8 numbers, or two such squares at once, rows 0 to 7 and rows
// 8 to 15: number j of row i becomes number i of row j.
static inline void turn(column r[8])
{
#ifdef LOW
	column a[8], b[8];
	for (int i = 0; i < 4; i++) {
		a[2 * i] = LOW(r[i], r[i + 4]);
		a[2 * i + 1] = HIGH(r[i], r[i + 4]);
	}
	for (int i = 0; i < 4; i++) {
		b[2 * i] = LOW(a[i], a[i + 4]);
		b[2 * i + 1] = HIGH(a[i], a[i + 4]);
	}
	for (int i = 0; i < 4; i++) {
		r[2 * i] = LOW(b[i], b[i + 4]);
		r[2 * i + 1] = HIGH(b[i], b[i + 4]);
	}
#else
	column t[8];
	for (int i = 0; i < 8; i++)
		for (int j = 0; j < 8; j++)
			t[j].v[i] = r[i].v[j];
	memcpy(r, t, sizeof t);
#endif
}

// gather takes 8 numbers from each of ROWS rows, as turn wants them; scatter
// puts them back, n of them into the first rows of them.
static inline void gather(column to[8], const uint16_t *from, size_t pitch)
{
	for (int i = 0; i < 8; i++) {
#if defined(AVX2)
		__m128i a = _mm_load_si128((const __m128i *)(from + (size_t)i * pitch));
		to[i] = _mm256_inserti128_si256(_mm256_castsi128_si256(a), _mm_load_si128((const __m128i *)(from + (size_t)(i + 8) * pitch)), 1);
#else
		memcpy(&to[i], from + (size_t)i * pitch, 16);
#endif
	}
}

static inline void scatter(uint16_t *to, size_t pitch, const column from[8], int n, int rows)
{
	for (int i = 0; i < rows; i++) {
		const char *row = (const char *)&from[i & 7] + (i >= 8 ? 16 : 0);
		if (n == 8)
			memcpy(to + (size_t)i * pitch, row, 16);
		else
			memcpy(to + (size_t)i * pitch, row, (size_t)n * 2);
	}
}

// blend sets acc to bias and the weighted rows, in 1/256 of a level, or adds
// them to it. Every product is cut to a whole number, which bias makes up for in
// the mean.
static inline __attribute__((always_inline)) void blend(uint16_t *restrict acc, const uint8_t *const row[3], const uint16_t weight[3],
	unsigned bias, int n, int many, int fresh)
{
	int i = 0;
#if defined(AVX2)
	for (; i + 16 <= n; i += 16) {
		__m256i *to = (__m256i *)(acc + i), sum = fresh ? column_of(bias) : _mm256_loadu_si256(to);
		for (int t = 0; t < many; t++) {
			__m256i v = _mm256_cvtepu8_epi16(_mm_loadu_si128((const __m128i *)(row[t] + i)));
			sum = column_add(sum, column_high(_mm256_slli_epi16(v, 8), weight[t]));
		}
		_mm256_storeu_si256(to, sum);
	}
#elif defined(SSE2)
	for (; i + 16 <= n; i += 16) {
		__m128i *to = (__m128i *)(acc + i), none = _mm_setzero_si128();
		__m128i a = fresh ? column_of(bias) : _mm_loadu_si128(to), b = fresh ? a : _mm_loadu_si128(to + 1);
		for (int t = 0; t < many; t++) {
			__m128i v = _mm_loadu_si128((const __m128i *)(row[t] + i));
			a = column_add(a, column_high(_mm_unpacklo_epi8(none, v), weight[t]));
			b = column_add(b, column_high(_mm_unpackhi_epi8(none, v), weight[t]));
		}
		_mm_storeu_si128(to, a);
		_mm_storeu_si128(to + 1, b);
	}
#endif
	for (; i < n; i++) {
		unsigned sum = fresh ? bias : acc[i];
		for (int t = 0; t < many; t++)
			sum += cut(row[t][i], weight[t]);
		acc[i] = sum;
	}
}

static void resample(const lp_plane *src, int left, int right,
	const int32_t *yfirst, const uint16_t *yweight, const uint16_t *ybias, int ytaps, int height,
	const int32_t *xfirst, const uint16_t *xweight, const uint16_t *xbias, int xtaps, int width,
	uint16_t *out, uint8_t *scratch)
{
	int columns = right - left, pitch = round8(columns);
	scratch += 31 & -(uintptr_t)scratch;
	uint16_t *acc = (uint16_t *)scratch;
	column *turned = (column *)(acc + (size_t)pitch * ROWS);
	column *made = turned + pitch;
	uint8_t *dense = (uint8_t *)(made + round8(width));

	memset(acc, 0, (size_t)pitch * ROWS * 2);
	for (int y0 = 0; y0 < height; y0 += ROWS) {
		int rows = height - y0 < ROWS ? height - y0 : ROWS;
		for (int r = 0; r < rows; r++) {
			const uint16_t *w = yweight + (size_t)(y0 + r) * ytaps;
			uint16_t *to = acc + (size_t)r * pitch;
			unsigned bias = ybias[y0 + r];
			if (y0 + r + AHEAD < height)
				fetch(src, left, right, yfirst[y0 + r + AHEAD], ytaps);
			for (int t = 0; t < ytaps;) {
				const uint8_t *row[3];
				int many = ytaps - t < 3 ? ytaps - t : 3;
				for (int i = 0; i < many; i++) {
					row[i] = src->data + (ptrdiff_t)(yfirst[y0 + r] + t + i) * src->stride + (ptrdiff_t)left * src->step;
					if (src->step != 1) {
						uint8_t *packed = dense + (size_t)i * pitch;
						for (int x = 0; x < columns; x++)
							packed[x] = row[i][(ptrdiff_t)x * src->step];
						row[i] = packed;
					}
				}
				if (t > 0)
					switch (many) {
					case 1: blend(to, row, w + t, bias, columns, 1, 0); break;
					case 2: blend(to, row, w + t, bias, columns, 2, 0); break;
					default: blend(to, row, w + t, bias, columns, 3, 0); break;
					}
				else
					switch (many) {
					case 1: blend(to, row, w + t, bias, columns, 1, 1); break;
					case 2: blend(to, row, w + t, bias, columns, 2, 1); break;
					default: blend(to, row, w + t, bias, columns, 3, 1); break;
					}
				t += many;
			}
		}
		for (int x = 0; x < columns; x += 8) {
			column block[8];
			gather(block, acc + x, pitch);
			turn(block);
			for (int i = 0; i < 8; i++)
				turned[x + i] = block[i];
		}
		for (int x = 0; x < width; x++) {
			const column *from = turned + (xfirst[x] - left);
			const uint16_t *w = xweight + (size_t)x * xtaps;
			column sum = column_of(xbias[x]);
			for (int t = 0; t < xtaps; t++)
				sum = column_add(sum, column_high(from[t], w[t]));
			made[x] = sum;
		}
		for (int x = 0; x < width; x += 8) {
			column block[8];
			for (int i = 0; i < 8; i++)
				block[i] = made[x + i];
			turn(block);
			scatter(out + (size_t)y0 * width + x, width, block, width - x < 8 ? width - x : 8, rows);
		}
	}
}

#undef PASTE
#undef PASTE2
#undef NAME
#undef LOW
#undef HIGH
#undef column
#undef column_of
#undef column_add
#undef column_high
#undef gather
#undef scatter
#undef turn
#undef blend
#undef resample
