package lockstep

import (
	"errors"
	"fmt"
	"io"
	"slices"

	"latchproof/specs/console"
)

// tailMargin is by how many frames two whole runs may end apart: half a
// second, since the recording is stopped by hand-over-hand messages.
const tailMargin = 30

// Compare compares run b with run a, frame by frame. Errors: ErrLayout,
// ErrUnseen, ErrTrace, or those of the system. That runs differ is no error.
func Compare(a, b Run) (Report, error) { return CompareWith(a, b, Options{}) }

// CompareWith is Compare with options.
func CompareWith(a, b Run, opt Options) (Report, error) {
	rep, next, err := compareFrom(a, b, 0, opt)
	if err != nil || next > min(a.last(), b.last()) {
		return rep, unseen(a, b, rep, err)
	}
	// What comes after the parting is only counted.
	err = walk(a, b, next, 0, func(console.Frame, Features, Features) bool {
		rep.Compared++
		return true
	})
	rep.Unseen = rep.Frames - rep.Compared
	return rep, unseen(a, b, rep, err)
}

// unseen is ErrUnseen when nothing could be compared and nothing else is known.
func unseen(a, b Run, rep Report, err error) error {
	if d := rep.Divergence; err == nil && (d == nil || d.Kind == KindEnd) && rep.Compared == 0 && rep.Frames > 0 {
		return fmt.Errorf("%s and %s: %w", a.Name, b.Name, ErrUnseen)
	}
	return err
}

// comparison is what two runs have in common while they are compared.
type comparison struct {
	run    [2]Run
	opt    Options
	layout Layout
	m      *meter
	album  [2]*album
	// covered is the last frame that both runs cover; the pictures after it are
	// compared and not counted.
	covered console.Frame
	gap     *readGap
	pulses  *pulseGap
	cues    cues
	// pending is the shift that the last difference was found to begin.
	pending *lock
	// tries is how many pairs of pictures were compared in looking for shifts,
	// most how many may be, and spent the frame from which on that was too many.
	tries, most int64
	spent       console.Frame
	spare       [4]reading
	again       *flickers // nil but while the first difference is looked for
	marks       place
}

func (c *comparison) err() error {
	for _, b := range c.album {
		if b.err != nil {
			return b.err
		}
	}
	return nil
}

// compareFrom compares from a frame on, up to the first divergence; next is the
// frame after the last that was counted.
func compareFrom(a, b Run, start console.Frame, opt Options) (rep Report, next console.Frame, err error) {
	if err := sameLayout(a.Trace.Layout(), b.Trace.Layout()); err != nil {
		return rep, 0, fmt.Errorf("%s and %s: %w", a.Name, b.Name, err)
	}
	covered := min(a.last(), b.last())
	a, b = played(a, b)
	c := &comparison{run: [2]Run{a, b}, opt: opt, layout: a.Trace.Layout(), album: [2]*album{newAlbum(a), newAlbum(b)}, covered: covered}
	return c.compare(start)
}

// played takes what two runs show after their last reads into what is compared:
// when both ended on the same frame, their consoles play on alike.
func played(a, b Run) (Run, Run) {
	if a.LastFrame > 0 && a.LastFrame == b.LastFrame && !a.EndedEarly && !b.EndedEarly {
		a.LastFrame = max(a.LastFrame, min(a.Trace.Len(), b.Trace.Len())-1)
		b.LastFrame = a.LastFrame
	}
	return a, b
}

// compare is compareFrom, once: a comparison is not used again.
func (c *comparison) compare(start console.Frame) (rep Report, next console.Frame, err error) {
	a, b, opt := c.run[0], c.run[1], c.opt
	defer c.album[0].close()
	defer c.album[1].close()
	c.gap, c.pulses, rep.Warnings = compareReads(a, b, start, opt)
	c.cues = cuesOf(a, b, start)
	c.m = newMeter(c.layout)
	pairs, err := firstPairs(a, b, start)
	if err != nil {
		return rep, 0, err
	}
	c.m.start(pairs)

	last := min(a.last(), b.last())
	rep.Frames = max(0, int64(c.covered-start)+1)
	c.most = triesEach*rep.Frames + triesMore
	var e event
	at := start
	rep.Last = -1
	c.again = new(flickers)
	var dark *[2]console.Frame // where a run showed nothing, and where it ended
	for {
		s, err := c.stretch(at, 0)
		rep.Compared += s.compared
		next = s.next
		agreed := s.last
		if s.found != nil {
			agreed = min(agreed, s.found.since-1)
		}
		rep.Last = max(rep.Last, agreed)
		rep.Suspects = append(rep.Suspects, s.suspects...)
		if err != nil {
			return rep, next, err
		}
		if s.found == nil {
			break
		}
		if s.found.flickers > 0 {
			rep.Suspects = dropSuspects(rep.Suspects, s.found.frame)
			e = event{found: s.found}
			break
		}
		if dark != nil && s.found.since <= dark[1] {
			s.found.since = dark[0] // nothing is known of the frames that were dark
		}
		if to, run, ok := c.blankTo(s.found.frame, last); ok {
			rep.Warnings = append(rep.Warnings, blankWarning(c.run[run].Name, s.found.frame, to, last))
			rep.Compared -= s.seenFrom(s.found.frame)
			at, next, dark = to, to, &[2]console.Frame{s.found.since, to}
			continue
		}
		if e, err = c.weigh(s.found, 0); err != nil {
			return rep, next, err
		}
		if !e.passes {
			break
		}
		// Trouble of the capture: the runs agree again, on the same frames.
		rep.Suspects = append(rep.Suspects, Suspect{Kind: KindFlicker, Frame: s.found.frame, Region: s.found.region, Score: s.found.score})
		at = max(e.lock.frame, s.found.frame+1)
		if at < next { // counted already, and looked at again
			rep.Compared -= s.seenFrom(at)
		} else if err := walk(a, b, next, 0, func(f console.Frame, _, _ Features) bool {
			if f < at && f <= c.covered {
				rep.Compared++
			}
			return f < at
		}); err != nil {
			return rep, next, err
		}
		e = event{}
	}
	c.again = nil
	if c.tries > c.most {
		rep.Warnings = append(rep.Warnings, fmt.Sprintf("the pictures differ now and again so often that from frame %d on no shift of them was looked for", c.spent))
	}
	rep.Noise = c.m.noise()
	for i := range rep.Suspects {
		rep.Suspects[i].A, rep.Suspects[i].B = a.Name, b.Name
	}
	rep.Unseen = rep.Frames - rep.Compared
	rep.Divergence, err = c.classify(e, start, last)
	if err != nil {
		return rep, next, err
	}
	d := rep.Divergence
	if c.pulses != nil && (d == nil || d.Kind != KindPicture) {
		rep.Warnings = append(rep.Warnings, c.pulses.why+"; the console was given the same buttons again")
	}
	switch {
	case d == nil || d.Kind == KindEnd:
		if c.gap != nil {
			rep.Warnings = append(rep.Warnings, c.gap.why+"; the pictures do not differ for it")
		}
	case c.gap != nil && c.gap.frame > d.Frame:
		rep.Warnings = append(rep.Warnings, "after the pictures differ: "+c.gap.why)
	case d.Clocks:
		rep.Warnings = append(rep.Warnings, fmt.Sprintf("%s and %s agree only when one is taken %s later: the frame clock of one of them is wrong", a.Name, b.Name, frames(abs(d.Shift))))
	}
	return rep, next, nil
}

// stretch is what comparing at one shift came to.
type stretch struct {
	found    *found
	suspects []Suspect
	compared int64
	next     console.Frame   // the frame of b after the last looked at
	seen     []console.Frame // the last of those looked at
	last     console.Frame   // the last that both runs cover and saw, -1 for none
}

// seenFrom is how many of the last frames looked at come from f on.
func (s *stretch) seenFrom(f console.Frame) (n int64) {
	for _, x := range s.seen {
		if x >= f {
			n++
		}
	}
	return n
}

// stretch compares b from a frame on with what a shows k frames before, until
// they differ for good or the end.
func (c *comparison) stretch(start console.Frame, k int) (out stretch, err error) {
	j := judge{layout: c.layout, lastSeen: start - 1, input: 1 << 62}
	if k == 0 {
		j.input, j.cued, j.again = c.cues.first(), c.cues.near, c.again
	}
	j.trouble = func(r *reading) bool { return c.troubled(r, k) }
	j.shifted = func(r *reading) bool { return c.shifts(r.frame, k) }
	c.pending = nil
	out.next, out.last = start, -1
	err = walk(c.run[0], c.run[1], start, k, func(f console.Frame, fa, fb Features) bool {
		out.next = f + 1
		if f <= c.covered {
			out.compared++
			out.last = f
			out.seen = append(out.seen, f)
		}
		if n := len(out.seen); n > 2*burstFrames {
			out.seen = append(out.seen[:0], out.seen[n-burstFrames-1:]...)
		}
		r := j.spare()
		c.m.look(f, fa, fb, r)
		j.push(r)
		return j.found == nil
	})
	if err != nil {
		return out, err
	}
	if j.found == nil {
		out.next = max(out.next, min(c.run[0].last()+console.Frame(k), c.run[1].last())+1)
		j.finish()
	}
	if out.found, out.suspects = j.found, j.suspects; j.found != nil {
		j.found.from = start
	}
	return out, c.err()
}

// walk calls look for every frame of b from start on that both runs saw, a's
// picture being that of k frames before, no further than both cover and as long
// as look says so.
func walk(a, b Run, start console.Frame, k int, look func(f console.Frame, a, b Features) bool) error {
	d := console.Frame(k)
	start = max(start, d)
	var cur [2]Cursor
	for i, r := range []Run{a, b} {
		c, err := r.Trace.Open()
		if err != nil {
			return fmt.Errorf("%s: %w", r.Name, err)
		}
		defer c.Close()
		at := start
		if i == 0 {
			at -= d
		}
		if err := c.Seek(at); err != nil {
			return fmt.Errorf("%s: %w", r.Name, err)
		}
		cur[i] = c
	}
	last := min(a.last()+d, b.last())
	var pa, pb Picture
	for f := start; f <= last; f++ {
		errA, errB := cur[0].Next(&pa), cur[1].Next(&pb)
		if errors.Is(errA, io.EOF) || errors.Is(errB, io.EOF) {
			return nil
		}
		if errA != nil {
			return fmt.Errorf("%s: %w", a.Name, errA)
		}
		if errB != nil {
			return fmt.Errorf("%s: %w", b.Name, errB)
		}
		if pa.Sight == Seen && pb.Sight == Seen && !look(f, pa.Features, pb.Features) {
			return nil
		}
	}
	return nil
}

// last is the last frame a run covers.
func (r Run) last() console.Frame {
	if r.LastFrame > 0 {
		return r.LastFrame
	}
	return r.Trace.Len() - 1
}

// firstPairs gives the first pictures that both runs saw.
func firstPairs(a, b Run, start console.Frame) (pairs [][2]Features, err error) {
	short := [2]Run{a, b}
	// The pictures seen by both within a few chunks are plenty.
	for i := range short {
		short[i].LastFrame = min(short[i].last(), start+4*chunkFrames)
		if short[i].LastFrame <= 0 {
			return nil, nil
		}
	}
	err = walk(short[0], short[1], start, 0, func(_ console.Frame, fa, fb Features) bool {
		if blank(fa) != blank(fb) {
			return true // a lost signal tells nothing of gain and offset
		}
		pairs = append(pairs, [2]Features{slices.Clone(fa), slices.Clone(fb)})
		return len(pairs) < startFrames
	})
	return pairs, err
}
