package stats

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// drawBeta draws from Beta(a, b), a and b whole: a quotient of gamma variables.
func drawBeta(rng *rand.Rand, a, b int) float64 {
	x, y := 0.0, 0.0
	for range a {
		x += rng.ExpFloat64()
	}
	for range b {
		y += rng.ExpFloat64()
	}
	return x / (x + y)
}

func quantileOf(v []float64, q float64) float64 {
	s := slices.Sorted(slices.Values(v))
	return s[int(q*float64(len(s)))]
}

// binomialError is four standard errors of a share p of n.
func binomialError(p float64, n int) float64 {
	return 4 * math.Sqrt(p*(1-p)/float64(n))
}

// samples is the size of a simulation: a fifth under -short, which is for the
// race detector, and nothing here is concurrent. What is asked of the shares
// follows it by binomialError.
func samples(n int) int {
	if testing.Short() {
		return n / 5
	}
	return n
}
