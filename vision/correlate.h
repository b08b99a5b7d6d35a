#ifndef LATCHPROOF_CORRELATE_H
#define LATCHPROOF_CORRELATE_H

#include <stddef.h>
#include <stdint.h>

size_t lp_correlate_scratch(int across, int down, int tw, int th);
void lp_correlate(const uint8_t *pic, ptrdiff_t stride, int across, int down,
	const uint8_t *luma, const uint8_t *mask, int tw, int th,
	int64_t n, int64_t sum, int64_t variance, uint8_t *scratch, double *scores);

#endif
