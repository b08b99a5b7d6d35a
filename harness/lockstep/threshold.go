package lockstep

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// FalseAlarm is the chance that a frame is taken for different when nothing
// but normal noise of the measured size tells the pictures apart.
const FalseAlarm = 1e-9

// weakAlarm is the same for confirming a difference and for looking back from
// a confirmed one, where only the blocks near it are looked at: about
// nearBlocks of them.
const (
	weakAlarm  = 1e-5
	nearBlocks = 32
)

// testsPerBlock: six single features, the luma four together, the chroma two
// together, the luma of two by two blocks together.
const testsPerBlock = perBlock + 3

// NormalThreshold is the two-sided standard normal quantile for a chance of p
// spread evenly over n tests (Bonferroni): P(|Z| > z) = p/n.
func NormalThreshold(p float64, n int) float64 {
	return -distuv.UnitNormal.Quantile(p / float64(n) / 2)
}

// ChiSquareThreshold is the square that the sum of df squared standard normals
// passes with a chance of p/n. With df even the upper tail has the closed form
// exp(-x/2) * sum over k < df/2 of (x/2)^k/k! (Abramowitz and Stegun, Handbook
// of Mathematical Functions, 26.4.21 for even df), which is solved by bisection
// because a quantile taken from 1-p loses its digits at such small chances.
func ChiSquareThreshold(p float64, n, df int) float64 {
	if df < 2 || df%2 != 0 {
		panic("lockstep: degrees of freedom must be even")
	}
	want := math.Log(p / float64(n))
	tail := func(x float64) float64 {
		term, sum := 1.0, 1.0
		for k := 1; k < df/2; k++ {
			term *= x / 2 / float64(k)
			sum += term
		}
		return math.Log(sum) - x/2
	}
	lo, hi := 0.0, 1.0
	for tail(hi) > want {
		hi *= 2
	}
	for i := 0; i < 200 && hi-lo > 1e-13*hi; i++ {
		mid := (lo + hi) / 2
		if tail(mid) > want {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// tailFactor widens the thresholds of a frame where the noise is small, since
// then what a block codec does to a picture is not normal: where two runs
// differ a little in brightness, one block in thousands falls on other steps
// than its neighbours. Noise well above the steps spreads them out. The factor
// is 1.5 up to a noise of 1.5 levels and falls with its square: 1.13 at 3
// levels, 1.02 at 7. scale is in Units. The form is our own, from the worst of
// 100,000 synthetic frame pairs without a difference (1.21 times the normal
// threshold, all at a noise below 1.5 levels).
func tailFactor(scale float64) float64 {
	r := min(1, 1.5/Unit/scale)
	return 1 + 0.5*r*r
}

// groupFactor widens the threshold of two by two blocks: within a class the
// noise is not the same everywhere, and what a single block hardly shows adds up
// over four. Around a bright sprite under noise of 20 levels and JPEG of quality
// 50 it was 1.4 times that of the class.
const groupFactor = 1.3

// limits are the thresholds for one chance, as factors that turn a statistic
// into multiples of its threshold; square is the sum of squares of two by two
// blocks that is at its threshold.
type limits struct {
	one, four, two, group float64
	square                float32
}

func limitsFor(p float64, blocks int) limits {
	n := blocks * testsPerBlock
	return limits{
		one:    1 / NormalThreshold(p, n),
		four:   1 / math.Sqrt(ChiSquareThreshold(p, n, 4)),
		two:    1 / math.Sqrt(ChiSquareThreshold(p, n, 2)),
		group:  1 / math.Sqrt(ChiSquareThreshold(p, n, 16)) / groupFactor,
		square: float32(ChiSquareThreshold(p, n, 16) * groupFactor * groupFactor),
	}
}
