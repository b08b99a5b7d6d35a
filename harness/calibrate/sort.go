package calibrate

import "math"

// tally counts what the pictures of a check were.
type tally struct {
	pictures int
	decoder  int // damaged by the decoder's own account
	repeated int
	signal   int // without content where other runs show some
	torn     int
	odd      int // with a region that no other run shows on that frame
	covered  int // those that could be held against other runs
	parted   []*take
}

const (
	// A capture with less noise than this, levels, may give the same picture
	// twice because nothing happened.
	noisy = 0.15
	// A run parts from the others when from some picture on so many of its
	// pictures at the least, and such a share of them, are found in no other.
	partsLeast = 10
	// A single picture is wrong when it is off by so many times the limit: codecs
	// that predict pictures from one another are off by more than it at times.
	clearly    = 3
	partsShare = 0.4
)

// sortOut says which pictures stand for nothing, and why.
func (a *album) sortOut() (n tally) {
	for _, t := range a.takes {
		t.parts = math.Inf(1)
	}
	for _, t := range a.takes {
		noise, _ := noiseOf(t.noise)
		for i := range t.shots {
			s := &t.shots[i]
			n.pictures++
			switch {
			case s.damaged:
				n.decoder++
				s.bad = true
			case s.same && !s.flat && noise[0] > noisy && i > 0:
				n.repeated++
				s.bad = true
			}
		}
	}
	for _, t := range a.takes {
		for i := range t.shots {
			if s := &t.shots[i]; s.flat && !s.bad && s.u > 0 && a.shown(t, s) {
				n.signal++
				s.bad = true
			}
		}
	}
	a.learn()
	found := map[*take][]int{}
	for _, t := range a.takes {
		others := a.others(t)
		var strange, wrong []bool
		var which []int
		for i := range t.shots {
			s := &t.shots[i]
			if s.bad || s.f == nil || s.u < 0 {
				continue
			}
			d, covered := nearest(s, others, a.like(t, s))
			if !covered {
				continue
			}
			n.covered++
			strange, wrong = append(strange, d > a.limit), append(wrong, d > clearly*a.limit)
			which = append(which, i)
		}
		if k := partsFrom(strange); k >= 0 {
			t.parts = t.shots[which[k]].u
			n.parted = append(n.parted, t)
		}
		for k, i := range which {
			if wrong[k] && t.shots[i].u < t.parts {
				found[t] = append(found[t], i)
			}
		}
	}
	for _, t := range a.takes {
		for _, i := range found[t] {
			a.name(t, i, &n)
		}
	}
	return n
}

// shown says whether another run shows content all about the place of a flat
// picture, where both should show the same.
func (a *album) shown(t *take, s *shot) bool {
	like := a.like(t, s)
	for _, o := range a.others(t) {
		if !like(o) {
			continue
		}
		content, flat := 0, 0
		o.around(s.u, 2.5, func(r *shot) {
			if r.flat {
				flat++
			} else {
				content++
			}
		})
		if content >= 2 && flat == 0 {
			return true
		}
	}
	return false
}

// partsFrom is the first of the pictures from which on nearly all are strange;
// -1 when there is none.
func partsFrom(strange []bool) int {
	at, count := -1, 0
	for i := len(strange) - 1; i >= 0; i-- {
		if !strange[i] {
			continue
		}
		count++
		if count >= partsLeast && float64(count) >= partsShare*float64(len(strange)-i) {
			at = i
		}
	}
	return at
}

// name says what is wrong with a single picture that no other run shows.
func (a *album) name(t *take, i int, n *tally) {
	s := &t.shots[i]
	s.bad = true
	switch {
	case i > 0 && t.shots[i-1].f != nil && distance(s, &t.shots[i-1]) <= a.limit/2:
		n.repeated++
	case a.torn(s, a.others(t)):
		n.torn++
	default:
		n.odd++
	}
}

// torn says whether a picture's upper part is that of one picture of another run
// and its lower part that of another.
func (a *album) torn(s *shot, others []*take) bool {
	const cols = 32
	upper, lower, both := 0, 0, 0
	rows := len(s.f) / 6 / cols
	for _, o := range others {
		o.around(s.u, 2.5, func(r *shot) {
			gain := 1.0
			if s.mean > 8 && r.mean > 8 {
				gain = min(max(s.mean/r.mean, 0.9), 1.1)
			}
			alike := func(row int) bool {
				for c := range cols {
					at := (row*cols + c) * 6
					if blockDistance(s.f[at:at+6], r.f[at:at+6], gain, 0) > a.limit {
						return false
					}
				}
				return true
			}
			up, low := 0, 0
			for up < rows && alike(up) {
				up++
			}
			for low < rows && alike(rows-1-low) {
				low++
			}
			upper, lower, both = max(upper, up), max(lower, low), max(both, up+low)
		})
	}
	// A picture that another has whole (2*rows) is of another moment, not of two.
	// The row of blocks with the seam may be like neither. What is hurt in one
	// row of blocks is like neither too, but then one picture has all the others.
	return upper > 0 && lower > 0 && both < 2*rows && (upper+lower >= rows || upper+lower == rows-1 && both < rows/2)
}
