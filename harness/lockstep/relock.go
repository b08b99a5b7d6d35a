package lockstep

import (
	"slices"

	"latchproof/specs/console"
)

// MaxShift is how many frames a run may be later or earlier to be found again.
const MaxShift = 120

const (
	// lockHits is how many more pictures that moved must agree than disagree,
	// those that disagree counting lockLoss times, for a shift to be held for
	// found; lockSure is when it is taken though another one is as good. A shift
	// is given up after lockPatience pictures that disagree.
	lockHits     = 8
	lockLoss     = 4
	lockSure     = 24
	lockPatience = 24
	// lockEnd is lockHits where the pictures end: so many that moved and all that
	// there are.
	lockEnd = 3
	// lockFrames is how far the search goes: 15 seconds, so that eight pictures
	// are found also where the clock of a status line is all that moves.
	lockFrames = 900
	// triesEach and triesMore bound the pairs of pictures compared for that, by
	// the frames of a comparison: a scene that repeats itself every few frames and
	// flickers gives no shift up and finds none. One search takes at most 217,000
	// (241 shifts over lockFrames), mostly some hundreds.
	triesEach = 16
	triesMore = 250_000
)

// lock is a shift found by looking for the pictures of b among those of a.
type lock struct {
	shift int
	frame console.Frame // of b: the first of the pictures that agree in a row
}

// guess is what speaks for and against a shift.
type guess struct {
	shift     int
	hit, miss int
	first     console.Frame // of the row of hits
	row       int           // hits less lockLoss times the misses, at least 0
}

// relock looks from a frame on for the shift at which the pictures agree again.
// Only pictures that differ from the one before, in either run, say anything: a
// still scene agrees at every shift. k is the shift so far, which is never given
// up. When only is not nil it names the shifts to try.
func (c *comparison) relock(from console.Frame, k int, only []int) (lock, bool) {
	var guesses []guess
	if only == nil {
		for k := -MaxShift; k <= MaxShift; k++ {
			guesses = append(guesses, guess{shift: k})
		}
	}
	for _, k := range only {
		guesses = append(guesses, guess{shift: k})
	}
	if c.tries > c.most && len(guesses) > 1 {
		guesses = []guess{{shift: k}} // whether they agree again is cheap
	}
	a, b := c.album[0], c.album[1]
	a.at(from - MaxShift)
	end := min(b.run.last(), from+lockFrames)
	for f := from; f <= end && len(guesses) > 0; f++ {
		now := b.at(f)
		if len(now) == 0 {
			continue
		}
		moved := c.moved(1, f)
		for i := range guesses {
			g := &guesses[i]
			s := f - console.Frame(g.shift)
			then := a.at(s)
			if len(then) == 0 || !moved && !c.moved(0, s) {
				continue
			}
			if c.tries++; c.tries == c.most+1 {
				c.spent = from
			}
			if c.alike(then, now) {
				if g.row == 0 {
					g.first = f
				}
				g.hit++
				g.row++
			} else {
				g.miss++
				g.row = max(0, g.row-lockLoss)
			}
		}
		guesses = slices.DeleteFunc(guesses, func(g guess) bool {
			// A lag of k frames shows k pictures that fit nowhere.
			return g.shift != k && g.miss > abs(g.shift)+lockPatience && g.row == 0 && g.miss > 2*g.hit
		})
		if l, ok := choose(guesses); ok {
			return l, c.err() == nil
		}
	}
	if end == b.run.last() {
		if l, ok := chooseAtEnd(guesses); ok {
			return l, c.err() == nil
		}
	}
	return lock{}, false
}

// choose takes a shift when it alone has enough pictures for it, or the nearest
// when it has many: a scene that repeats itself agrees at several.
func choose(guesses []guess) (lock, bool) {
	var best *guess
	rivals := 0
	for i := range guesses {
		g := &guesses[i]
		if g.row < lockHits/2 {
			continue
		}
		rivals++
		if g.row >= lockHits && (best == nil || abs(g.shift) < abs(best.shift)) {
			best = g
		}
	}
	if best == nil || rivals > 1 && best.row < lockSure {
		return lock{}, false
	}
	return lock{best.shift, best.first}, true
}

// chooseAtEnd takes the shift at which all pictures to the end agree, though they
// are few, when at no other shift two in a row do at the end.
func chooseAtEnd(guesses []guess) (lock, bool) {
	var best *guess
	for i := range guesses {
		switch g := &guesses[i]; {
		case g.miss == 0 && g.hit >= lockEnd && best == nil:
			best = g
		case g.row >= lockEnd-1:
			return lock{}, false
		}
	}
	if best == nil {
		return lock{}, false
	}
	return lock{best.shift, best.first}, true
}

func abs(k int) int { return max(k, -k) }

// alike says whether a picture of b shows what a picture of a does.
func (c *comparison) alike(a, b Features) bool {
	if c.m.far(a, b, &c.m.planes) {
		return false
	}
	c.m.hold(a, b, &c.m.planes, &c.spare[2])
	return !c.spare[2].differs()
}

// agrees says whether two pictures of the same frame do, as look would.
func (c *comparison) agrees(a, b Features) bool {
	c.m.measure(a, b, &c.m.planes, &c.spare[2])
	return !c.spare[2].differs()
}

// moved says whether a picture of a run differs from the one before.
func (c *comparison) moved(run int, f console.Frame) bool {
	b := c.album[run]
	now := b.at(f)
	slot := f % albumSize
	if len(now) == 0 {
		return false
	}
	if b.moved[slot] == 0 {
		b.moved[slot] = 1
		if before := b.near(f-1, -1); len(before) > 0 {
			now = b.at(f) // near may have gone back
			if c.m.far(before, now, &same) {
				b.moved[slot] = 2
			} else if c.m.hold(before, now, &same, &c.spare[3]); c.spare[3].differs() {
				b.moved[slot] = 2
			}
		}
	}
	return b.moved[slot] == 2
}
