package judge

import (
	"fmt"
	"math"

	"latchproof/harness/clock"
)

// The frame clock is held against the pictures: see the package documentation.

const (
	window   = 10   // pictures on either side that a step is held against
	fewest   = 6    // steps of each kind that are needed for that
	apart    = 1.15 // how far apart the steps by one and by two frames must be
	unlikely = 1e-4 // chance below which the clock is not believed
	stray    = 0.01 // share of pairs of one frame that may change for other reasons
	disagree = 2    // a change this many times another is one
)

type step uint8

const (
	unclear step = iota
	single
	double
)

// evidence is what the pictures say about the clock.
type evidence struct {
	m        *motion
	captures []clock.Assignment
	bad      []bool // per picture: of no instant of its own (repeat, damaged, torn)

	ordinary []bool  // the step from the picture before is by one frame, surely
	missed   float64 // share of the steps by two frames that look like one, at most
}

func newEvidence(m *motion, captures []clock.Assignment, bad []bool) *evidence {
	n := min(len(m.one), len(captures), len(bad))
	e := &evidence{m: m, captures: captures[:n], bad: bad[:n], ordinary: make([]bool, n)}
	for k := 1; k < n; k++ {
		a, b := captures[k-1], captures[k]
		e.ordinary[k] = !bad[k-1] && !bad[k] && m.one[k] >= 0 &&
			a.State == clock.Sure && b.State == clock.Sure && b.Frame == a.Frame+1
	}
	e.calibrate()
	return e
}

// judge says whether a change of size x, between pictures a and b, is that of a
// step by one frame or by two: whether it is nearer to the median of the steps
// by one or of those by two in the window around, by ratio. Steps that share one
// of the pictures a to b count for nothing.
func (e *evidence) judge(x float32, a, b int) step {
	var ones, twos [4 * window]float32
	n1, n2 := 0, 0
	for k := max(1, a-window); k <= min(len(e.ordinary)-1, b+window); k++ {
		if !e.ordinary[k] || k >= a && k-1 <= b {
			continue
		}
		ones[n1] = e.m.one[k]
		n1++
		if e.ordinary[k-1] && e.m.two[k] >= 0 && (k < a || k-2 > b) {
			twos[n2] = e.m.two[k]
			n2++
		}
	}
	if n1 < fewest || n2 < fewest {
		return unclear
	}
	m1, m2 := middle(ones[:n1]), middle(twos[:n2])
	if m2 < twice*m1 || m2 < moves {
		return unclear
	}
	if x*x > m1*m2 {
		return double
	}
	return single
}

// calibrate measures how often a step by two frames looks like one by one, on
// the steps by two frames that the run is full of.
func (e *evidence) calibrate() {
	n, wrong := 0, 0
	for k := 2; k < len(e.ordinary); k++ {
		if !e.ordinary[k] || !e.ordinary[k-1] || e.m.two[k] < 0 {
			continue
		}
		switch e.judge(e.m.two[k], k-2, k) {
		case single:
			wrong++
			n++
		case double:
			n++
		}
	}
	e.missed = 1
	if n > 0 {
		// Three more than were seen: the bound of 95 % when there was none.
		e.missed = min(1, float64(wrong+3)/float64(n))
	}
}

// skips counts the places at which the clock says that a frame was skipped
// between two pictures of consecutive instants, and at how many of them the
// pictures show no skip. A skip whose place is only known to lie among a few
// pictures near a frame boundary is missing when none of their steps is double.
func (e *evidence) skips() (told, missing int, first int) {
	prev := -1 // the last sure picture
	for k, a := range e.captures {
		if e.bad[k] || a.State != clock.Sure {
			continue
		}
		if prev >= 0 {
			frames := int64(a.Frame - e.captures[prev].Frame)
			ticks := a.Tick - e.captures[prev].Tick
			if frames == ticks+1 && k-prev <= 2*window {
				switch e.within(prev, k) {
				case double:
					told++
				case single:
					if missing == 0 {
						first = k
					}
					told, missing = told+1, missing+1
				}
			}
		}
		prev = k
	}
	return told, missing, first
}

// within looks at the steps between the good pictures from a to b, which are by
// one frame but for one of them.
func (e *evidence) within(a, b int) step {
	all := single
	last := a
	for k := a + 1; k <= b; k++ {
		if e.bad[k] {
			continue
		}
		var x float32 = -1
		switch k - last {
		case 1:
			x = e.m.one[k]
		case 2:
			x = e.m.two[k]
		}
		if x < 0 || e.captures[k].Tick-e.captures[last].Tick != int64(k-last) {
			return unclear
		}
		switch e.judge(x, last, k) {
		case double:
			return double
		case unclear:
			all = unclear
		}
		last = k
	}
	return all
}

// changes counts the pairs of consecutive pictures that the clock calls one
// frame, and those of them that change where a neighbouring pair, which it calls
// two frames, does not.
func (e *evidence) changes() (pairs, changed int, first int) {
	same := func(k int) bool {
		return k >= 1 && k < len(e.captures) && !e.bad[k] && !e.bad[k-1] && e.m.one[k] >= 0 &&
			e.captures[k].State == clock.Sure && e.captures[k-1].State == clock.Sure && e.captures[k].Frame == e.captures[k-1].Frame
	}
	other := func(k int) bool { return k >= 1 && k < len(e.ordinary) && e.ordinary[k] }
	for k := range e.captures {
		if !same(k) {
			continue
		}
		pairs++
		for _, j := range []int{k - 2, k - 1, k + 1, k + 2} {
			if other(j) && e.m.one[k] > disagree*e.m.one[j] {
				if changed == 0 {
					first = k
				}
				changed++
				break
			}
		}
	}
	return pairs, changed, first
}

// against is what speaks against the clock, in words; empty when nothing does.
func (e *evidence) against() string {
	if pairs, changed, k := e.changes(); tailOf(pairs, changed, stray) < unlikely {
		return fmt.Sprintf("the pictures contradict it: of %d pairs of pictures that it calls one frame %d change while a pair beside them, which it calls two frames, does not (first at picture %d)",
			pairs, changed, k)
	}
	if told, missing, k := e.skips(); tailOf(told, missing, e.missed) < unlikely {
		return fmt.Sprintf("the pictures contradict it: at %d of %d places where it says that the card skipped a frame or gave a picture twice, the next picture is only one frame further (first at picture %d): the card's latency is not the calibrated one, or it changed",
			missing, told, k)
	}
	return ""
}

// tailOf is the chance of x or more of n when each has the chance p.
func tailOf(n, x int, p float64) float64 {
	if x == 0 || p >= 1 {
		return 1
	}
	if p <= 0 {
		return 0
	}
	sum := 0.0
	for i := x; i <= n; i++ {
		a, _ := math.Lgamma(float64(n + 1))
		b, _ := math.Lgamma(float64(i + 1))
		c, _ := math.Lgamma(float64(n - i + 1))
		sum += math.Exp(a - b - c + float64(i)*math.Log(p) + float64(n-i)*math.Log1p(-p))
	}
	return min(sum, 1)
}
