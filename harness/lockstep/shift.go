package lockstep

import (
	"fmt"

	"latchproof/specs/console"
)

// event is a confirmed difference and what became of it.
type event struct {
	found  *found
	locked bool // the pictures agree again, at lock
	lock   lock
	// passes: it is trouble of the capture, and the runs agree afterwards.
	passes bool
}

// healFrames is how many pictures may differ before the runs agree again for it
// to be a difference that vanished at once: half as many when none looks like
// trouble.
const healFrames = confirmFrames

// weigh looks for the pictures again after a confirmed difference at a shift.
func (c *comparison) weigh(f *found, k int) (event, error) {
	e := event{found: f}
	if c.pending != nil {
		e.lock, e.locked = *c.pending, true
	} else {
		e.lock, e.locked = c.relock(f.frame, k, nil)
	}
	if err := c.err(); err != nil {
		return e, err
	}
	if e.locked && e.lock.shift != k {
		f.frame, f.since = c.firstShifted(f, k, e.lock.shift)
		return e, nil
	}
	if g, ok := c.spell(f, k); ok && !e.locked {
		e.locked, e.passes, e.lock = true, true, lock{k, g}
		return e, c.err()
	}
	if e.locked && c.cues.first() > f.frame {
		e.passes = c.heals(f, e.lock.frame, k) || c.frozen(0, f.frame-console.Frame(k), e.lock.frame-console.Frame(k)) || c.frozen(1, f.frame, e.lock.frame)
	}
	return e, c.err()
}

// spellFrames bounds a spell of trouble.
const spellFrames = 60

// spell says whether a difference is one of a spell of pictures of which half
// look like trouble, and which ends with two pictures that move and agree
// entirely: what differs after that is another matter. It gives the first of
// those. What begins where the consoles were given other buttons is none.
func (c *comparison) spell(f *found, k int) (end console.Frame, ok bool) {
	if k == 0 && c.cues.near(f.frame) {
		return 0, false
	}
	n, odd, row := 0, 0, 0
	var r reading
	for t := f.frame; t < f.frame+spellFrames; t++ {
		x, y := c.album[0].at(t-console.Frame(k)), c.album[1].at(t)
		if len(x) == 0 || len(y) == 0 {
			continue
		}
		c.m.measure(x, y, &c.m.planes, &r)
		switch {
		case r.differs():
			r.frame, row = t, 0
			if n++; c.troubled(&r, k) {
				odd++
			}
		case len(r.faint) == 0 && c.moved(0, t-console.Frame(k)):
			if row == 0 {
				end = t
			}
			if row++; row == 2 {
				return end, n > 0 && 2*odd >= n
			}
		}
	}
	return 0, false
}

// heals says whether few pictures differ from a difference to a frame where the
// runs agree again, or half of those that do look like trouble.
func (c *comparison) heals(f *found, to console.Frame, k int) bool {
	n, odd := 0, 0
	var r reading
	for t := f.frame; t < to; t++ {
		x, y := c.album[0].at(t-console.Frame(k)), c.album[1].at(t)
		if len(x) == 0 || len(y) == 0 {
			continue
		}
		if c.m.measure(x, y, &c.m.planes, &r); r.differs() {
			r.frame = t
			if n++; c.troubled(&r, k) {
				odd++
			}
		}
	}
	return n <= healFrames/2 || n <= healFrames && odd > 0 || 2*odd >= n
}

// frozen says whether a run gave the same picture again and again in frames
// [from, to).
func (c *comparison) frozen(run int, from, to console.Frame) bool {
	for f := from + 1; f < to-1; f++ {
		if c.moved(run, f) {
			return false
		}
	}
	return true
}

// firstShifted looks back from a difference for the first picture that shows
// the shift and not what a shows on the frame.
func (c *comparison) firstShifted(f *found, k, shift int) (first, since console.Frame) {
	a, b := c.album[0], c.album[1]
	first, since = f.sure, f.since
	if f.sure > f.frame {
		since = f.sure // what was seen before is not sure to differ
	}
	back := max(f.from, f.sure-MaxShift)
	same := false // the frame after, seen, agrees at k
	step := 1
	if shift > k {
		step = -1
	}
	for t := f.sure - 1; t >= back; t-- {
		now, here := b.at(t), a.at(t-console.Frame(k))
		if len(now) == 0 || len(here) == 0 {
			continue
		}
		agrees, known, fits := c.agrees(here, now), false, false
		// While a console lags its pictures come by ever more frames late, up to
		// the shift.
		for j := shift; j != k && !fits; j += step {
			there := a.at(t - console.Frame(j))
			if len(there) > 0 {
				known, fits = true, c.alike(there, now)
			}
			if agrees {
				break // a scene that stands agrees at the shift too
			}
		}
		if agrees && known && !fits {
			break // surely together
		}
		if !same && agrees {
			since, same = t+1, true
		}
		if agrees {
			continue
		}
		if known && !fits {
			break
		}
		first, since, same = t, t, false
	}
	return first, min(first, since)
}

// shifts says whether a difference that the next frames do not confirm begins a
// shift, in a scene that moves so seldom that most frames agree all the same.
func (c *comparison) shifts(f console.Frame, k int) bool {
	if c.tries > c.most {
		return false
	}
	a, b := c.album[0], c.album[1]
	a.at(f - MaxShift)
	now := b.at(f)
	if len(now) == 0 {
		return false
	}
	only := []int{k}
	for s := f - MaxShift; s <= f+MaxShift; s++ {
		if then := a.at(s); len(then) > 0 && s != f-console.Frame(k) && c.alike(then, now) {
			only = append(only, int(f-s))
		}
	}
	if len(only) == 1 {
		return false
	}
	l, ok := c.relock(f, k, only)
	if !ok || l.shift == k {
		return false
	}
	c.pending = &l
	return true
}

// course is how a shift went on.
type course struct {
	stays bool
	text  string
	// own is how many pictures agree at no shift where they differ at the
	// shift: something in the picture did not shift.
	own int
}

// maxTurns bounds how many changes of a shift are told.
const maxTurns = 8

// follow compares on at the shift of a lock, to see whether it stays.
func (c *comparison) follow(l lock) (out course, err error) {
	for turn := 0; ; turn++ {
		c.adjust(l)
		s, err := c.stretch(l.frame, l.shift)
		if err != nil {
			return out, err
		}
		for _, x := range s.suspects {
			out.own += c.unshifted(x.Frame, l.shift)
		}
		if s.found == nil {
			out.stays = turn == 0
			if !out.stays && l.shift != 0 {
				out.text += ", to the end"
			}
			return out, nil
		}
		at := s.found.frame
		e, err := c.weigh(s.found, l.shift)
		if err != nil {
			return out, err
		}
		switch {
		case e.passes:
			turn--
		case !e.locked || e.lock.shift == l.shift:
			out.own += 2 * c.unshifted(at, l.shift)
			out.text += fmt.Sprintf("; from frame %d on the pictures differ in another way too", at)
			return out, nil
		case e.lock.shift == 0:
			out.text += fmt.Sprintf("; from frame %d on both are together again", s.found.frame)
		default:
			out.text += fmt.Sprintf("; from frame %d on it is %s", s.found.frame, inFrames(e.lock.shift))
		}
		if turn == maxTurns {
			return out, nil
		}
		if e.lock.frame <= l.frame {
			return out, nil // no progress
		}
		l = e.lock
	}
}

// adjust takes gain and offset anew, at a shift.
func (c *comparison) adjust(l lock) {
	var pairs [][2]Features
	for f := l.frame; f < l.frame+2*startFrames && len(pairs) < startFrames; f++ {
		x, y := c.album[0].at(f-console.Frame(l.shift)), c.album[1].at(f)
		if len(x) > 0 && len(y) > 0 {
			pairs = append(pairs, [2]Features{x, y})
		}
	}
	if len(pairs) > 0 {
		c.m.line(pairs)
	}
}

// unshifted is 1 when a picture of b that differs at a shift is, where it
// differs, what a shows on the very frame.
func (c *comparison) unshifted(f console.Frame, shift int) int {
	a, b := c.album[0], c.album[1]
	now, here, then := b.at(f), a.at(f), a.at(f-console.Frame(shift))
	if len(now) == 0 || len(here) == 0 || len(then) == 0 {
		return 0
	}
	x, y := &c.spare[0], &c.spare[1]
	c.m.hold(then, now, &c.m.planes, x)
	c.m.hold(here, now, &c.m.planes, y)
	if len(x.over) == 0 || len(c.set(y.faint).in(x.over)) > 0 {
		return 0
	}
	return 1
}

// together says whether, before a frame, the runs agree on moving pictures that
// would not agree at the shift. When they do not, the shift may have been there
// from the start.
func (c *comparison) together(start, first console.Frame, shift int) bool {
	a, b := c.album[0], c.album[1]
	n := 0
	for f := max(start, console.Frame(shift)); f < first; f++ {
		now, here, then := b.at(f), a.at(f), a.at(f-console.Frame(shift))
		if len(now) == 0 || len(here) == 0 || len(then) == 0 || c.alike(then, now) || !c.alike(here, now) {
			continue
		}
		if n++; n == 2 {
			return true
		}
	}
	return false
}

// inFrames says in words by how much a run is later.
func inFrames(k int) string {
	if k < 0 {
		return frames(-k) + " early"
	}
	return frames(k) + " late"
}

func frames(n int) string {
	if n == 1 {
		return "one frame"
	}
	return fmt.Sprintf("%d frames", n)
}
