package stats

import (
	"fmt"
	"math"
)

// FisherResult compares k1 of n1 with k0 of n0.
type FisherResult struct {
	// OddsRatio is that of the sample, k1(n0-k0) / (k0(n1-k1)): +Inf when only
	// the divisor is 0 and NaN when both are, which is why JSON leaves it out.
	// R's fisher.test reports another one, the conditional maximum likelihood
	// estimate.
	OddsRatio float64 `json:"-"`
	Less      float64 `json:"less"`      // chance of so many events in group 1 or fewer, were the rates equal
	Greater   float64 `json:"greater"`   // of so many or more
	TwoSided  float64 `json:"two_sided"` // of a split so improbable or more so
}

// FisherExact is Fisher's exact test of whether two rates are equal, of which
// k1 in n1 and k0 in n0 trials were seen (R. A. Fisher, The Design of
// Experiments, 1935, chapter 2). Given all k1+k0 events, the number in group 1
// is hypergeometric; the two-sided value sums the chances that are no greater
// than that of the split seen (within 1e-7 of it, as R's fisher.test).
//
// The chances are added relative to the greatest, which neither overflows nor
// loses digits for millions of trials; values below about 1e-300 come out as 0. With
// no event, no trial or nothing but events all three are 1. It is an error (ErrRange) when a count
// is negative, above its trials, or its trials above 2^40. Checked by fisher_test.go.
func FisherExact(k1, n1, k0, n0 int64) (FisherResult, error) {
	for _, g := range [][2]int64{{k1, n1}, {k0, n0}} {
		if err := checkCount(g[0], g[1]); err != nil {
			return FisherResult{}, err
		}
		if g[1] > fisherMost {
			return FisherResult{}, fmt.Errorf("%w: %d trials are more than %d", ErrRange, g[1], int64(fisherMost))
		}
	}
	a, b, c, d := float64(k1), float64(n1-k1), float64(k0), float64(n0-k0)
	r := FisherResult{OddsRatio: a * d / (c * b)}
	r.Less, r.Greater, r.TwoSided = hypergeometric{a + b, c + d, a + c}.tests(a)
	return r, nil
}

// fisherMost keeps the work within some ten million steps.
const fisherMost = 1 << 40

// hypergeometric is the number of events in group 1, of so many in both.
type hypergeometric struct{ n1, n0, events float64 }

// tests sums the chances of at most k, of at least k, and of all counts no
// more probable than k.
func (h hypergeometric) tests(k float64) (less, greater, two float64) {
	low, high := max(0, h.events-h.n0), min(h.n1, h.events)
	mode := math.Floor((h.events + 1) * ((h.n1 + 1) / (h.n1 + h.n0 + 2)))
	mode = min(max(mode, low), high)
	// next is the chance of x+1 over that of x.
	next := func(x float64) float64 {
		return (h.n1 - x) / (x + 1) * ((h.events - x) / (h.n0 - h.events + x + 1))
	}
	seen := 1.0
	for x := mode; x < k && seen > 0; x++ {
		seen *= next(x)
	}
	for x := mode; x > k && seen > 0; x-- {
		seen /= next(x - 1)
	}
	var total float64
	add := func(x, w float64) {
		total += w
		if x <= k {
			less += w
		}
		if x >= k {
			greater += w
		}
		if w <= seen*(1+1e-7) {
			two += w
		}
	}
	for x, w := mode, 1.0; x <= high && w > 0; x++ {
		add(x, w)
		w *= next(x)
	}
	for x, w := mode, 1.0; x > low && w > 0; x-- {
		w /= next(x - 1)
		add(x-1, w)
	}
	return min(1, less/total), min(1, greater/total), min(1, two/total)
}
