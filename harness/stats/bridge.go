package stats

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
)

// bridgeWithin is the chance that a Brownian bridge (from 0 at time 0 to 0 at
// time 1) stays within -x..x from time a to time b, 0 <= a < b <= 1.
//
// Within two absorbing walls the density of a Brownian motion is a series of
// sines (D. R. Cox and H. D. Miller, The Theory of Stochastic Processes, 1965,
// section 5.7); integrated over where the bridge may be at a and at b, with
// φ(y; s) the normal density of variance s,
//
//	P = (√(2π)/x) Σ C(a) C(1-b) exp(-j²π²(b-a)/8x²),  j = 1, 3, 5, ...
//	C(s) = ∫ cos(jπy/2x) φ(y; s) dy from -x to x,  C(0) = 1
//
// For a = 0 and b = 1 this is the series of the Kolmogorov distribution.
func bridgeWithin(x, a, b float64) float64 {
	rate := math.Pi * math.Pi * (b - a) / (8 * x * x)
	terms := int(math.Sqrt(40/rate)) + 2 // the rest is below exp(-40)
	starts, ends := newCosines(x, a, terms), newCosines(x, 1-b, terms)
	sum := 0.0
	for j := 1; j <= terms; j += 2 {
		sum += starts.transform(j) * ends.transform(j) * math.Exp(-float64(j*j)*rate)
	}
	return min(1, max(0, math.Sqrt(2*math.Pi)/x*sum))
}

// cosines integrates C(s) by the rule of Gauss and Legendre.
type cosines struct{ angle, weight []float64 }

func newCosines(x, s float64, terms int) cosines {
	if s == 0 {
		return cosines{[]float64{0}, []float64{1}}
	}
	reach := min(x, 9*math.Sqrt(s))
	// Enough nodes for the bell, and four for each turn of the fastest cosine.
	nodes := 64 + int(2*float64(terms)*reach/x)
	c := cosines{make([]float64, nodes), make([]float64, nodes)}
	quad.Legendre{}.FixedLocations(c.angle, c.weight, -reach, reach)
	for i, y := range c.angle {
		c.weight[i] *= math.Exp(-y*y/(2*s)) / math.Sqrt(2*math.Pi*s)
		c.angle[i] = math.Pi * y / (2 * x)
	}
	return c
}

func (c cosines) transform(j int) (sum float64) {
	for i, w := range c.weight {
		sum += w * math.Cos(float64(j)*c.angle[i])
	}
	return sum
}

// bridgeShortest is the shortest piece of a bridge that the series is summed
// for, as a share of the variance there.
const bridgeShortest = 1e-3

// bridgeCritical is the x for which bridgeWithin is the confidence given. At
// one time alone (a = b) it is the normal quantile times √(a(1-a)). A piece shorter than
// bridgeShortest is taken to be that long, which widens it by a few per cent at
// most, and never narrows it.
func bridgeCritical(confidence, a, b float64) float64 {
	if 1-confidence < 1e-11 {
		// The digits of the series do not go so far. The first term of the
		// tail of the Kolmogorov distribution bounds that of every piece.
		return math.Sqrt(-math.Log((1-confidence)/2) / 2)
	}
	z := normalQuantile((1 + confidence) / 2)
	sd := math.Sqrt(a * (1 - a))
	if a == b {
		return z * sd
	}
	if least := bridgeShortest * a * (1 - a); b-a < least {
		a, b = max(0, a-least/2), min(1, b+least/2)
	}
	// The time of the greatest variance alone bounds it from below.
	middle := min(max(0.5, a), b)
	low := z * math.Sqrt(middle*(1-middle))
	lack := bridgeWithin(low, a, b) - confidence
	if lack >= 0 {
		return low // the rounding of a short piece
	}
	high := 1.5 * low
	rest := bridgeWithin(high, a, b) - confidence
	for rest < 0 {
		low, lack, high = high, rest, 1.5*high
		rest = bridgeWithin(high, a, b) - confidence
	}
	// False position in the Illinois form: an end that stays counts half.
	for side, n := 0, 0; n < 100 && high-low > 1e-10*high && rest > 1e-14; n++ {
		x := high - rest*(high-low)/(rest-lack)
		switch off := bridgeWithin(x, a, b) - confidence; {
		case off < 0:
			low, lack = x, off
			if side < 0 {
				rest /= 2
			}
			side = -1
		default:
			high, rest = x, off
			if side > 0 {
				lack /= 2
			}
			side = 1
		}
	}
	return high
}
