package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Interval is a range for a rate, both ends in 0..1.
type Interval struct {
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

// ClopperPearson is the exact two-sided interval for a rate of which k in n
// trials were seen, at the confidence given (0.95 for 95 %). Each tail holds
// at most half of 1-confidence.
//
// The limits are quantiles of the beta distribution,
// low = B(a/2; k, n-k+1) and high = B(1-a/2; k+1, n-k) with a = 1-confidence
// (C. J. Clopper and E. S. Pearson, Biometrika 26:404-413, 1934; in this form
// L. D. Brown, T. T. Cai and A. DasGupta, Statistical Science 16:101-133,
// 2001, section 4.2.1). For k = 0 low is 0; for k = n high is 1; for n = 0
// nothing is known and the interval is 0..1.
//
// It is an error when k or n is negative, k > n, or confidence is not inside
// 0..1. Checked by interval_test.go.
func ClopperPearson(k, n int64, confidence float64) (Interval, error) {
	if err := check(k, n, confidence); err != nil {
		return Interval{}, err
	}
	tail := (1 - confidence) / 2
	iv := Interval{0, 1}
	if k > 0 {
		iv.Low = mathext.InvRegIncBeta(float64(k), float64(n-k+1), tail)
	}
	if k < n {
		// The upper limit is one less the lower limit of the opposite count,
		// which keeps its digits when it is near 1.
		iv.High = 1 - mathext.InvRegIncBeta(float64(n-k), float64(k+1), tail)
	}
	return iv, nil
}

// Wilson is the two-sided score interval without continuity correction for a
// rate of which k in n trials were seen, at the confidence given.
//
// With p = k/n and z the normal quantile of 1-a/2 the limits are
// (p + z²/2n ± z √(p(1-p)/n + z²/4n²)) / (1 + z²/n)
// (E. B. Wilson, Journal of the American Statistical Association 22:209-212,
// 1927; NIST/SEMATECH e-Handbook of Statistical Methods, section 7.2.4.1).
// For k = 0 low is exactly 0 and for k = n high is exactly 1; for n = 0 the
// interval is 0..1. Errors as for ClopperPearson. Checked by
// interval_test.go.
func Wilson(k, n int64, confidence float64) (Interval, error) {
	if err := check(k, n, confidence); err != nil {
		return Interval{}, err
	}
	return wilson(k, n, normalQuantile((1+confidence)/2)), nil
}

func wilson(k, n int64, z float64) Interval {
	if n == 0 {
		return Interval{0, 1}
	}
	nf := float64(n)
	p := float64(k) / nf
	mid := p + z*z/(2*nf)
	half := z * math.Sqrt(p*(1-p)/nf+z*z/(4*nf*nf))
	scale := 1 + z*z/nf
	iv := Interval{max(0, (mid-half)/scale), min(1, (mid+half)/scale)}
	if k == 0 {
		iv.Low = 0
	}
	if k == n {
		iv.High = 1
	}
	return iv
}

// ErrRange marks arguments that this package has no answer for; test with errors.Is.
var ErrRange = fmt.Errorf("stats: out of range")

func check(k, n int64, confidence float64) error {
	if err := checkCount(k, n); err != nil {
		return err
	}
	return checkConfidence(confidence)
}

func checkCount(k, n int64) error {
	switch {
	case n < 0:
		return fmt.Errorf("%w: %d trials", ErrRange, n)
	case k < 0 || k > n:
		return fmt.Errorf("%w: %d of %d trials", ErrRange, k, n)
	}
	return nil
}

func checkConfidence(c float64) error {
	if !(c > 0 && c < 1) {
		return fmt.Errorf("%w: confidence %v is not between 0 and 1", ErrRange, c)
	}
	return nil
}
