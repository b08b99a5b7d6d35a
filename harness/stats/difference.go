package stats

import "math"

// RateDifference is the two-sided interval for p1-p0, the difference of two
// rates of which k1 in n1 and k0 in n0 trials were seen, at the confidence
// given; the ends are in -1..1.
//
// It combines the Wilson limits l1..u1 and l0..u0 of the two rates with the
// rates p1 and p0 seen (R. G. Newcombe, Statistics in Medicine 17:873-890,
// 1998, method 10):
//
//	low  = p1-p0 - √((p1-l1)² + (u0-p0)²)
//	high = p1-p0 + √((u1-p1)² + (p0-l0)²)
//
// Without trials in a group nothing is known and the interval is -1..1. Errors
// (ErrRange) as for ClopperPearson. Checked by difference_test.go.
func RateDifference(k1, n1, k0, n0 int64, confidence float64) (low, high float64, err error) {
	i1, err := Wilson(k1, n1, confidence)
	if err != nil {
		return 0, 0, err
	}
	i0, err := Wilson(k0, n0, confidence)
	if err != nil {
		return 0, 0, err
	}
	if n1 == 0 || n0 == 0 {
		return -1, 1, nil
	}
	p1, p0 := float64(k1)/float64(n1), float64(k0)/float64(n0)
	low = p1 - p0 - math.Hypot(p1-i1.Low, i0.High-p0)
	high = p1 - p0 + math.Hypot(i1.High-p1, p0-i0.Low)
	return max(-1, low), min(1, high), nil
}
