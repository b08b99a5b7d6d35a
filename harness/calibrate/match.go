package calibrate

import (
	"math"

	"latchproof/harness/lockstep"
	"latchproof/specs/console"
)

// distance is how far two pictures are apart: the sum of the squares over the
// six features of the block that differs most, quarter levels squared. The means
// of luma are made alike before, by a gain or by an offset, whichever fits better:
// a card's levels may drift.
func distance(a, b *shot) float64 {
	gain := 1.0
	if a.mean > 8 && b.mean > 8 {
		gain = min(max(a.mean/b.mean, 0.8), 1.25)
	}
	best := worst(a.f, b.f, gain, 0)
	if off := a.mean - b.mean; math.Abs(off) > 2 && math.Abs(off) < 80 {
		best = min(best, worst(a.f, b.f, 1, off))
	}
	return best
}

func worst(a, b lockstep.Features, gain, offset float64) (most float64) {
	for i := 0; i+6 <= len(a) && i+6 <= len(b); i += 6 {
		most = max(most, blockDistance(a[i:i+6:i+6], b[i:i+6:i+6], gain, offset))
	}
	return most
}

func blockDistance(a, b lockstep.Features, gain, offset float64) (sum float64) {
	for k := range 4 {
		d := float64(a[k]) - gain*float64(b[k]) - offset
		sum += d * d
	}
	for k := 4; k < 6; k++ {
		d := float64(a[k]) - float64(b[k])
		sum += d * d
	}
	return sum
}

// album finds the pictures of other runs by their place.
type album struct {
	takes []*take
	limit float64 // a distance beyond this is a difference
	first float64 // frame of the first press; before it both programs show the same
}

// like says of which other takes a picture of a take must have its like: those of
// the same program with the same lag frames, or before either differs.
func (a *album) like(t *take, s *shot) func(*take) bool {
	return func(o *take) bool {
		until := math.Inf(1)
		if o.press != t.press {
			until = a.first
		}
		return s.u < min(until, lagsApart(t.fit.LagFrames(), o.fit.LagFrames()))
	}
}

// lagsApart is the first frame that is a lag frame of one run only.
func lagsApart(a, b []console.Frame) float64 {
	for i := 0; i < len(a) || i < len(b); i++ {
		switch {
		case i >= len(a):
			return float64(b[i])
		case i >= len(b):
			return float64(a[i])
		case a[i] != b[i]:
			return float64(min(a[i], b[i]))
		}
	}
	return math.Inf(1)
}

// around calls see for the usable shots of a take within d frames of u.
func (t *take) around(u, d float64, see func(*shot)) {
	lo, hi := 0, len(t.shots)
	for lo < hi { // first with u > u-d
		m := (lo + hi) / 2
		if t.shots[m].u <= u-d {
			lo = m + 1
		} else {
			hi = m
		}
	}
	for ; lo < len(t.shots) && t.shots[lo].u < u+d; lo++ {
		if s := &t.shots[lo]; s.f != nil && !s.bad && s.u < t.parts {
			see(s)
		}
	}
}

// nearest is the distance from a shot to the nearest of the other takes'
// pictures that may be of its frame. Whatever the latency is, pictures of the
// same frame are less than a frame apart. covered says whether one of them must
// be of its frame: when the next before and the next after it are not more than
// a frame apart, for no frame begins and ends between them. Only takes of which
// alike says that they ought to show the same count for that; nil: all.
func nearest(s *shot, others []*take, alike func(*take) bool) (best float64, covered bool) {
	best = math.Inf(1)
	below, above := math.Inf(-1), math.Inf(1)
	for _, o := range others {
		counts := alike == nil || alike(o)
		o.around(s.u, 1+s.err, func(r *shot) {
			if counts && r.u <= s.u {
				below = max(below, r.u)
			}
			if counts && r.u >= s.u {
				above = min(above, r.u)
			}
			if best > 0 {
				best = min(best, distance(s, r))
			}
		})
	}
	return best, above-below <= 0.99-2*s.err
}

// floorLimit is the least difference that counts: three levels in each of four
// luma features.
const floorLimit = 4 * 12 * 12

// learn sets the limit from how far pictures are from their nearest in general:
// half as much again as one in twenty of a run is, in the middle of the runs. A
// run that parts from the others, or one picture in thirty that is hurt, does not
// raise it; when all runs part from one another, the quarter that is nearest holds
// it down.
func (a *album) learn() {
	var runs []float64
	for _, t := range a.takes {
		others := a.others(t)
		var v []float64
		for i := range t.shots {
			if s := &t.shots[i]; i%2 == 0 && s.f != nil && !s.bad && !s.flat && s.u > 0 {
				if d, ok := nearest(s, others, a.like(t, s)); ok {
					v = append(v, d)
				}
			}
		}
		if len(v) > 0 {
			runs = append(runs, min(max(2.5*quantile(v, 0.5), 1.5*quantile(v, 0.95)), 8*quantile(v, 0.25)))
		}
	}
	a.limit = max(floorLimit, quantile(runs, 0.5))
}

func (a *album) others(t *take) (out []*take) {
	for _, o := range a.takes {
		if o != t {
			out = append(out, o)
		}
	}
	return out
}
