package clock

import (
	"math"
	"slices"

	"latchproof/harness/stats"
)

// narrow is how far apart the fifth and the ninety-fifth of a hundred stamps
// must be before their law is looked for, seconds: nearer, what is left in doubt
// is less than that anyway.
const narrow = 0.4e-3

// punctual moves the row to the punctual instants when most come late. A stamp
// is late by as much as the host happened to be busy and never early, so the mean
// moves with the load and the punctual ones do not. The row is moved when the late
// class of laws is likelier than the even one by exp(lopsided): then place, slope
// and doubt of the row are those of the late class. Where it is likelier by less,
// both are believed. Lateness that hides in an even error of its own size cannot
// be told from a part of that error, and is one: see the package documentation.
func (g *grid) punctual(times []float64, ticks []int64) {
	off := make([]float64, len(times))
	abs := make([]float64, len(times))
	for i, t := range times {
		off[i] = t - g.at(float64(ticks[i]))
		abs[i] = math.Abs(off[i])
	}
	sigma := max(1.4826*stats.Median(abs), 20e-6)
	var near []float64
	for _, x := range off {
		if math.Abs(x) <= 6*sigma {
			near = append(near, x)
		}
	}
	n := len(near)
	if n < minBlock {
		return
	}
	sorted := slices.Sorted(slices.Values(near))
	if wide := sorted[n*95/100] - sorted[n*5/100]; wide < narrow {
		shift, bound := densest(sorted, sigma)
		g.shift(shift)
		g.slack += bound
		return
	}
	if !leans(sorted, sigma) {
		return
	}
	s := binned(sorted)
	reach := sorted[n-1] - sorted[0]
	even := seek(s, sorted[n/8], sorted[n-1-n/8], false, reach/2, math.Inf(-1))
	late := seek(s, sorted[0], sorted[n*6/10], true, reach, even.law.lik)
	switch more := late.law.lik - even.law.lik; {
	case more > lopsided:
		g.edge(late, s.step)
	case more > perhaps:
		low := min(late.lo, 0) - s.step
		g.shift(low / 2)
		g.slack -= low / 2
	}
}

// leans says whether ascending values may come late at all: whether their mean, or
// the middle between the tenth and the ninetieth of a hundred, is farther above
// their median than a standard error of a symmetric sample's.
func leans(v []float64, sigma float64) bool {
	n := len(v)
	root := math.Sqrt(float64(n))
	mid, low, high := v[n/2], v[n/10], v[n-1-n/10]
	mean := 0.0
	for _, x := range v {
		mean += x / float64(n)
	}
	return mean-mid > 0.756*sigma/root || (high+low)/2-mid > 0.6*(high-low)/root
}

func (g *grid) shift(by float64) {
	for i := range g.knots {
		g.knots[i].t += by
	}
}

// edge moves the row to the place of the late class. How far off it is in the
// middle was measured on the residuals themselves, and is taken twice, since it was
// measured along a line that may be turned; a straight row is turned by as
// much as least squares may have been wrong (the square root of three times the
// standard error of the mean, at either end).
func (g *grid) edge(p place, step float64) {
	half := (p.hi - p.lo) + step
	g.shift((p.lo + p.hi) / 2)
	if g.waist == 0 {
		g.slack += half
		return
	}
	bent := g.fit - 2*g.waist
	g.waist *= math.Sqrt(3)
	g.fit = bent + g.waist + half
}

// densest finds where the punctual instants lie when most come late: how far
// from the row (seconds, to be added to it), and a bound of the error of that. A
// stamp is late by as much as the host happened to be busy and never early, so
// the mean moves with the load and the punctual ones do not. They are where the
// instants are densest: the middle of the shortest interval that holds a fifth
// of them (as the half-sample mode of T. Robertson and J. D. Cryer, Journal of
// the American Statistical Association 69:1012-1016, 1974), give or take its half
// width, the distance to the lower end of that with two fifths, or how far mean
// less five times mean less median is away, whichever is most (the mode lies
// about three times as far from the mean as the median does: K. Pearson,
// Philosophical Transactions of the Royal Society A 186:343-414, 1895). Where mean
// less median is within three standard errors nothing is moved, and within one
// nothing is doubted.
func densest(sorted []float64, sigma float64) (shift, bound float64) {
	var near []float64
	var mean float64
	for _, x := range sorted {
		if math.Abs(x) <= 4*sigma {
			near = append(near, x)
			mean += x
		}
	}
	n := len(near)
	if n < minBlock {
		return 0, 0
	}
	mean /= float64(n)
	// The standard error of a normal sample's mean less its median.
	se := 0.756 * sigma / math.Sqrt(float64(n))
	d := mean - stats.Median(near)
	if d <= se {
		return 0, 0
	}
	clear := d > 3*se
	d += 2 * se
	if !clear {
		return 0, math.Abs(mean - 5*d)
	}
	lo, hi := shortest(near, n/5+1)
	lo2, hi2 := shortest(near, 2*n/5+1)
	shift = (lo + hi) / 2
	return shift, max(1.3*(hi-lo)/2, 1.3*(shift-lo2), 1.3*(hi2-lo2)/2, math.Abs(mean-5*d-shift)) + se
}

// shortest is the shortest interval that holds k of the ascending values.
func shortest(v []float64, k int) (lo, hi float64) {
	lo, hi = v[0], v[len(v)-1]
	for i := 0; i+k <= len(v); i++ {
		if v[i+k-1]-v[i] < hi-lo {
			lo, hi = v[i], v[i+k-1]
		}
	}
	return lo, hi
}
