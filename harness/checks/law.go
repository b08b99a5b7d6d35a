package checks

import "math"

// attenuation is the score of the right place in noise: what noise in one of
// two variables leaves of a correlation of 1 (C. Spearman, "The proof and
// measurement of association between two things", American Journal of
// Psychology 15, 1904).
func attenuation(contrast, noise float64) float64 {
	if noise == 0 {
		return 1
	}
	return contrast / math.Hypot(contrast, noise)
}

const (
	// wrong is the chance of a wrong answer that telling two things apart may
	// have.
	wrong = 1e-9
	// spread is how many pixels are reckoned to share one piece of noise: noise
	// that was resampled or compressed is alike in neighbours.
	spread = 4
)

// apartBy says whether a score is so much better than another one, of n pixels
// each, that the first is the right one and not one of the others, of which
// there are some. The picture is the template times a gain, plus an offset and
// normal noise of unknown size; what the best line leaves over is v(1-score²)
// for a picture of the variance v, so that the logarithm of the ratio of the
// likelihoods, with the noise as the first leaves it over, is
//
//	m/2 · ((1-second²)/(1-best²) - 1)
//
// with m = n/spread independent pixels; the chance of a ratio of k or more in
// favour of a wrong one is at most 1/k (S. S. Wilks, Annals of Mathematical
// Statistics 9, 1938, for the ratio; the bound is Markov's inequality). A second
// score below 0 counts as 0.
func apartBy(best, second float64, n, others int) bool {
	if others < 1 {
		return true
	}
	if second >= best {
		return false
	}
	left := 1 - best*best
	if left <= 0 {
		return true
	}
	second = max(second, 0)
	m := float64(n) / spread
	return m/2*((1-second*second)/left-1) >= math.Log(float64(others)/wrong)
}
