package clock

import (
	"math"
	"slices"
)

// A law is how far stamps are from the instants of their pictures, as a mixture
// of even spreads, each blurred by the same normal error. Two classes are held
// against each other (both as general as the one-sided and the two-sided
// densities that fall away from their peak, by the theorem of A. Ya. Khinchine on
// unimodal laws, 1938, blurred):
//
//	even  symmetric about the instant: spreads over [-b, b]
//	late  never early but for the blur: spreads over [0, b]
//
// Weights are found by the EM algorithm (A. P. Dempster, N. M. Laird and D. B.
// Rubin, Journal of the Royal Statistical Society B 39:1-38, 1977).
type law struct {
	late    bool
	scale   float64   // the widest spread, seconds
	sigma   float64   // of the blur, seconds
	weights []float64 // of the spreads, the first is the blur alone
	lik     float64   // log likelihood of the sample
}

const (
	spreads   = 11  // each narrower than the one before by narrower
	narrower  = 0.6 // by which the widest of 40 ms at 60 Hz goes down to 0.2 ms
	rounds    = 30  // of the EM algorithm
	sampleMax = 240 // distinct values that a sample is binned to
	// lopsided is how much likelier, in log likelihood, the late class must be
	// before a sample is held to come late, and perhaps how much before it may.
	lopsided = 10.0
	perhaps  = 0.0
	// within is how much less likely than the best a place may be and still be
	// believed: that of five standard errors.
	within = 12.5
)

// sample is a set of values, binned.
type sample struct {
	x, count []float64
	step     float64 // half width of a bin
}

// binned makes a sample of ascending values.
func binned(v []float64) sample {
	var s sample
	n := len(v)
	width := (v[n-1] - v[0]) / sampleMax
	if n <= sampleMax {
		width = 0
	}
	s.step = width / 2
	for _, x := range v {
		if width > 0 {
			x = v[0] + (math.Floor((x-v[0])/width)+0.5)*width
		}
		if k := len(s.x); k > 0 && s.x[k-1] == x {
			s.count[k-1]++
			continue
		}
		s.x, s.count = append(s.x, x), append(s.count, 1)
	}
	return s
}

// heights are the densities of all parts of the law at x.
func (l *law) heights(x float64, to *[spreads + 1]float64) {
	r := 1 / l.sigma
	z := x * r
	to[0] = math.Exp(-z*z/2) * r / math.Sqrt(2*math.Pi)
	at, hi := normal(z), l.scale
	for j := 1; j <= spreads; j++ {
		if l.late {
			to[j] = (at - normal(z-hi*r)) / hi
		} else {
			to[j] = (normal(z+hi*r) - normal(z-hi*r)) / (2 * hi)
		}
		hi *= narrower
	}
}

const tiny = 1e-6 // density of strays that fit nothing, per second and unit of the rest

// fitLaw finds the weights for the instants being at the place c of the sample,
// or gives up when their likelihood cannot become more than enough: then lik is
// a bound of it. The bound is that of B. G. Lindsay (Annals of Statistics
// 11:86-94, 1983): the log likelihood is concave in the weights, so no weights
// make it larger by more than its steepest slope towards a single part.
func fitLaw(s sample, c float64, late bool, scale, sigma, enough float64) *law {
	l := &law{late: late, scale: scale, sigma: sigma}
	const k = spreads + 1
	p := make([][k]float64, len(s.x))
	total := 0.0
	for i, x := range s.x {
		l.heights(x-c, &p[i])
		total += s.count[i]
	}
	var w [k]float64
	for j := range w {
		w[j] = 1.0 / k
	}
	for round := range rounds {
		var grow [k]float64
		held := 0.0 // how many of the values the law holds, and not the strays
		for i := range p {
			row := &p[i]
			sum := tiny
			for j, v := range row {
				sum += w[j] * v
			}
			f := s.count[i] / sum
			held += f * (sum - tiny)
			for j, v := range row {
				grow[j] += v * f
			}
		}
		if round%4 == 1 { // it is worth its logarithms only now and then
			if lik := likelihood(s, p, &w) + slices.Max(grow[:]) - held; lik < enough {
				l.weights, l.lik = w[:], lik
				return l
			}
		}
		for j := range w {
			w[j] *= grow[j] / total
		}
	}
	l.weights, l.lik = w[:], likelihood(s, p, &w)
	return l
}

// likelihood is the log likelihood of a sample with those weights of heights.
func likelihood(s sample, p [][spreads + 1]float64, w *[spreads + 1]float64) float64 {
	lik := 0.0
	for i := range p {
		sum := tiny
		for j, v := range &p[i] {
			sum += w[j] * v
		}
		lik += s.count[i] * math.Log(sum)
	}
	return lik
}

// place is where in a sample the instants are.
type place struct {
	at     float64
	lo, hi float64 // within which it is believed to be
	law    *law
}

// seek finds the likeliest place of the instants between lo and hi, by a law of
// one class, and how far from it another one is still believed. What cannot be
// likelier than floor (log likelihood), or believed beside it, is not looked into
// any further.
func seek(s sample, lo, hi float64, late bool, scale, floor float64) place {
	best := place{law: &law{lik: math.Inf(-1)}}
	var all []tried
	first := 0 // the sigma that was best at the place before: what is far worse is soon given up
	try := func(c float64, sigmas []float64) {
		top := math.Inf(-1)
		sigmas[0], sigmas[first] = sigmas[first], sigmas[0]
		first = 0
		for i, sigma := range sigmas {
			l := fitLaw(s, c, late, scale, sigma, max(top, max(best.law.lik, floor)-within))
			if l.lik > top {
				top, first = l.lik, i
			}
			if l.lik > best.law.lik {
				best.at, best.law = c, l
			}
		}
		all = append(all, tried{c, top})
	}
	const steps = 12
	wide := []float64{scale / 4, scale / 8, scale / 16, scale / 48, scale / 128, scale / 512}
	step := (hi - lo) / steps
	for i := range steps + 1 {
		try(lo+float64(i)*step, wide)
	}
	for range 4 {
		b := best.law.sigma
		near := []float64{b / 4, b / 2, b / 1.3, b * 1.3, b * 2, b * 4}
		at := best.at
		step /= 3
		for _, d := range []float64{-2, -1, 1, 2} {
			try(at+d*step, near)
		}
	}
	best.lo, best.hi = believed(all, tried{best.at, best.law.lik})
	return best
}

// tried is a value and the log likelihood with it.
type tried struct{ c, lik float64 }

// believed is how far from the best of the tried values one is still believed:
// up to the nearest on either side that is not.
func believed(all []tried, best tried) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, t := range all {
		lo, hi = min(lo, t.c), max(hi, t.c)
	}
	for _, t := range all {
		if t.lik >= best.lik-within {
			continue
		}
		if t.c < best.c {
			lo = max(lo, t.c)
		}
		if t.c > best.c {
			hi = min(hi, t.c)
		}
	}
	return lo, hi
}
