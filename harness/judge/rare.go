package judge

import (
	"slices"

	"latchproof/harness/clock"
	"latchproof/specs/console"
)

const (
	// A run tells what its game's motion is like by so many pairs or more, and
	// what is farther back than past of them is forgotten.
	enough = 24
	past   = 1024
	// One picture in seldom may stand still: more are the game's own way to move.
	seldom = 12
	// So many lag frames tell how long after them the picture stands still.
	lags = 4
	// How many times more every other pair must change in its most changed block,
	// and altogether.
	gapMost, gapAll = 16, 2
)

// rare counts the pictures from k on that are the one before once more, coded
// anew, because nothing else in the run stands still: they change next to
// nothing between two pictures that move, few pairs of the run do so and every
// other one changes by much more, all that is known so far. first is the first
// picture of the run, which needs nothing that moves before it; paused says of
// which pairs nothing is to be expected, by the picture that is second in them.
// 0 when that cannot be said, or when the next picture clearly moves by one step
// and not by two.
func (m *motion) rare(k, first int, paused func(k int) bool) int {
	if k < first || paused(k) {
		return 0
	}
	rest := m.rest(k, first, paused)
	if rest.pairs == 0 || rest.pairs > burst || rest.sides != 2 {
		return 0
	}
	most, all := max(slices.Max(m.most[k:rest.end]), alike), slices.Max(m.one[k:rest.end])
	pairs, rests := 0, 0
	for j := max(first, k-past); j < len(m.one); j++ {
		if m.most[j] < 0 || paused(j) {
			continue
		}
		r := m.rest(j, first, paused)
		switch {
		case r.pairs > 0 && r.pairs <= burst:
			if r.sides == 2 { // else beside a picture that is unknown
				pairs, rests = pairs+r.pairs, rests+r.pairs
			}
			j = r.end - 1
		case m.most[j] < gapMost*most || m.one[j] < gapAll*all:
			return 0
		default:
			pairs++
		}
	}
	if pairs < enough || rests*seldom > pairs {
		return 0
	}
	p := m.pace(k, rest.end)
	if len(p.twos) >= moving && middle(p.twos) >= twice*middle(p.ones) && m.one[rest.end]*twice < slices.Min(p.twos) {
		return 0
	}
	return rest.end - k
}

// rest is a row of pictures that change less than motion does.
type rest struct {
	end   int // the first that does not
	pairs int // of them, those that ought to move
	sides int // on how many sides a picture moves, but for those that need not
}

func (m *motion) rest(k, first int, paused func(k int) bool) (r rest) {
	still := func(k int) bool { return m.most[k] >= 0 && m.most[k] < moves }
	for r.end = k; r.end < len(m.most) && still(r.end); r.end++ {
		if !paused(r.end) {
			r.pairs++
		}
	}
	before := k - 1
	for before >= first && still(before) && paused(before) {
		before--
	}
	if before < first || m.most[before] >= moves {
		r.sides++
	}
	if r.end < len(m.most) && m.most[r.end] >= moves {
		r.sides++
	}
	return r
}

// recoded counts the pictures from k on that are the one before once more, coded
// anew, as rare tells them: where pictures are coded by how they differ from
// others, for elsewhere what comes again is the same to the last bit.
func (w *watcher) recoded(k int) int {
	m := w.motion
	if m.most[k] < 0 || m.most[k] >= moves {
		return 0
	}
	if scan := w.scan; len(scan.Keys) == len(scan.Stamps) {
		return 0
	}
	shown := w.clock.Captures
	if !m.began {
		m.began, m.first = true, slices.IndexFunc(shown, func(a clock.Assignment) bool { return a.State != clock.Outside })
		for j := 1; j < len(shown); j++ {
			m.fast = m.fast || shown[j].State == clock.Sure && shown[j-1].State == clock.Sure && shown[j].Frame == shown[j-1].Frame
		}
	}
	if m.first < 0 {
		return 0
	}
	lag, known := m.delay(k, shown, w.lagging)
	return m.rare(k, m.first, func(j int) bool {
		switch {
		case shown[j].State == clock.Outside || !known && w.lagged(j, 1) || known && w.lagging[shown[j].Frame-lag]:
			return true
		case known && shown[j].State != clock.Sure && (w.lagging[shown[j].Frame-lag-1] || w.lagging[shown[j].Frame-lag+1]):
			return true
		}
		if j == 0 || !m.fast {
			return false
		}
		sure := shown[j].State == clock.Sure && shown[j-1].State == clock.Sure
		step := shown[j].Frame - shown[j-1].Frame
		return step <= 0 || !sure && step == 1
	})
}

// delay finds how many frames after a lag frame the picture stands still, from
// the pairs so far and ahead of picture k: after as many, of those from -1 to 3,
// nine of ten pairs or more change less than motion does, and after no other.
func (m *motion) delay(k int, shown []clock.Assignment, lagging map[console.Frame]bool) (lag console.Frame, known bool) {
	const from, to = -1, 3
	var pairs, rests [to - from + 1]int
	for j := max(m.first+1, 1, k-past); j < len(m.most); j++ {
		a, b := shown[j-1], shown[j]
		if m.most[j] < 0 || a.State != clock.Sure || b.State != clock.Sure || b.Frame != a.Frame+1 {
			continue
		}
		for d := range pairs {
			if lagging[b.Frame-console.Frame(d+from)] {
				pairs[d]++
				if m.most[j] < moves {
					rests[d]++
				}
			}
		}
	}
	for d, n := range pairs {
		if n >= lags && 10*rests[d] >= 9*n {
			if known {
				return 0, false
			}
			lag, known = console.Frame(d+from), true
		}
	}
	return lag, known
}
