package stats

import (
	"fmt"
	"math"
)

// RepeatsNeeded is how many clean repeats, with no failure among them, are
// needed to claim at the given confidence that the failure rate is below
// `below`. It is the smallest n with (1-below)^n <= 1-confidence: 299 for 1 %
// at 95 %.
//
// This is the one-sided form of ClopperPearson for 0 failures in n, whose
// upper limit is 1-(1-confidence)^(1/n); 3/n is its well-known approximation
// at 95 % (J. A. Hanley and A. Lippman-Hand, Journal of the American Medical
// Association 249:1743-1745, 1983). It is an error when either argument is not
// inside 0..1 or the count does not fit. Checked by repeats_test.go.
func RepeatsNeeded(below, confidence float64) (int64, error) {
	if err := checkConfidence(confidence); err != nil {
		return 0, err
	}
	if !(below > 0 && below < 1) {
		return 0, fmt.Errorf("%w: rate %v is not between 0 and 1", ErrRange, below)
	}
	// log(1-c) and log1p(-below) keep their digits for rates near 0.
	want, step := math.Log1p(-confidence), math.Log1p(-below)
	n := math.Ceil(want / step)
	if !(n < 1<<53) {
		return 0, fmt.Errorf("%w: rate %v needs too many repeats to count", ErrRange, below)
	}
	n = max(n, 1)
	// The quotient may be a rounding error above a whole number.
	if n > 1 && (n-1)*step <= want*(1-4e-16) {
		n--
	}
	return int64(n), nil
}

// UpperLimit is the exact one-sided upper confidence limit for the failure
// rate after n repeats with no failure: 1-(1-confidence)^(1/n); 1 for n = 0.
// Errors as for ClopperPearson.
func UpperLimit(n int64, confidence float64) (float64, error) {
	if err := check(0, n, confidence); err != nil {
		return 0, err
	}
	if n == 0 {
		return 1, nil
	}
	return -math.Expm1(math.Log1p(-confidence) / float64(n)), nil
}
