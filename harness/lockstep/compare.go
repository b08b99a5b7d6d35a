package lockstep

import (
	"errors"
	"fmt"
	"image"
	"io"
	"slices"

	"latchproof/specs/console"
	"latchproof/specs/program"
)

const (
	// confirmFrames is how many of the next frames seen by both are asked to
	// confirm a difference; more than half of them must differ too.
	confirmFrames = 8
	// tailMargin is by how many frames two whole runs may end apart: half a
	// second, since the recording is stopped by hand-over-hand messages.
	tailMargin = 30
)

// Compare compares run b with run a, frame by frame. Errors: ErrLayout,
// ErrUnseen, ErrTrace, or those of the system. That runs differ is no error.
func Compare(a, b Run) (Report, error) { return compareFrom(a, b, 0) }

// CompareWith is Compare with options.
func CompareWith(a, b Run, opt Options) (Report, error) { return compareFrom(a, b, 0) }

// compareFrom is Compare from a frame on.
func compareFrom(a, b Run, start console.Frame) (rep Report, err error) {
	if err := sameLayout(a.Trace.Layout(), b.Trace.Layout()); err != nil {
		return rep, fmt.Errorf("%s and %s: %w", a.Name, b.Name, err)
	}
	layout := a.Trace.Layout()
	gap, warnings := compareReads(a, b, start)
	rep.Warnings = warnings

	m := newMeter(layout)
	pairs, err := firstPairs(a, b, start)
	if err != nil {
		return rep, err
	}
	m.start(pairs)

	j := judge{layout: layout, gap: gap, lastSeen: start - 1}
	last := min(a.last(), b.last())
	rep.Frames = max(0, int64(last-start)+1)
	err = walk(a, b, start, func(f console.Frame, fa, fb Features) {
		rep.Compared++
		if j.found == nil {
			r := j.spare()
			m.look(f, fa, fb, r)
			j.push(r)
		}
	})
	if err != nil {
		return rep, err
	}
	rep.Unseen = rep.Frames - rep.Compared
	j.finish()
	rep.Noise = m.noise()
	rep.Suspects = j.suspects
	for i := range rep.Suspects {
		rep.Suspects[i].A, rep.Suspects[i].B = a.Name, b.Name
	}
	rep.Divergence = classify(a, b, j.found, gap, last)
	switch d := rep.Divergence; {
	case d != nil && d.Kind != KindEnd:
	case rep.Compared == 0 && rep.Frames > 0:
		return rep, fmt.Errorf("%s and %s: %w", a.Name, b.Name, ErrUnseen)
	case gap != nil:
		rep.Warnings = append(rep.Warnings, gap.why+"; the pictures do not differ for it")
	}
	if d := rep.Divergence; d != nil && d.Kind == KindPicture && gap != nil {
		rep.Warnings = append(rep.Warnings, "after the pictures differ: "+gap.why)
	}
	return rep, nil
}

// last is the last frame a run covers.
func (r Run) last() console.Frame {
	if r.LastFrame > 0 {
		return r.LastFrame
	}
	return r.Trace.Len() - 1
}

// walk calls look for every frame from start on that both runs saw, no further
// than both cover.
func walk(a, b Run, start console.Frame, look func(f console.Frame, a, b Features)) error {
	var cur [2]Cursor
	for i, r := range []Run{a, b} {
		c, err := r.Trace.Open()
		if err != nil {
			return fmt.Errorf("%s: %w", r.Name, err)
		}
		defer c.Close()
		if err := c.Seek(start); err != nil {
			return fmt.Errorf("%s: %w", r.Name, err)
		}
		cur[i] = c
	}
	last := min(a.last(), b.last())
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
		if pa.Sight == Seen && pb.Sight == Seen {
			look(f, pa.Features, pb.Features)
		}
	}
	return nil
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
	err = walk(short[0], short[1], start, func(_ console.Frame, fa, fb Features) {
		if len(pairs) < startFrames {
			pairs = append(pairs, [2]Features{slices.Clone(fa), slices.Clone(fb)})
		}
	})
	return pairs, err
}

// found is a confirmed difference of the pictures.
type found struct {
	frame, since console.Frame
	region       image.Rectangle
	score        float64
}

// judge takes the readings of the frames in order and finds the first that
// differs and is confirmed.
type judge struct {
	layout   Layout
	gap      *readGap
	past     []*reading // frames decided to be equal, the last few
	queue    []*reading // frames not decided yet
	free     []*reading
	lastSeen console.Frame // the last frame decided to be equal
	found    *found
	suspects []Suspect
}

func (j *judge) spare() *reading {
	if n := len(j.free); n > 0 {
		r := j.free[n-1]
		j.free = j.free[:n-1]
		return r
	}
	return new(reading)
}

func (j *judge) push(r *reading) {
	j.queue = append(j.queue, r)
	if len(j.queue) > confirmFrames {
		j.decide()
	}
}

func (j *judge) finish() {
	for j.found == nil && len(j.queue) > 0 {
		j.decide()
	}
}

// decide settles the oldest frame of the queue by those after it.
func (j *judge) decide() {
	r := j.queue[0]
	if r.differs() {
		after := 0
		near := j.grow(r.blocks, nil)
		for _, q := range j.queue[1:] {
			still := j.over(q.weak, near)
			if q.differs() || len(still) > 0 || r.whole > 1 && q.whole > wholeWeak {
				after++
				near = j.join(near, still)
			}
		}
		inputs := j.gap != nil && j.gap.frame <= r.frame
		if inputs || 2*after > len(j.queue)-1 {
			j.settle(r)
			return
		}
		j.suspects = append(j.suspects, Suspect{Kind: KindFlicker, Frame: r.frame, Region: r.region(j.layout), Score: r.score})
	}
	j.lastSeen = r.frame
	j.queue = j.queue[1:]
	j.past = append(j.past, r)
	if len(j.past) > confirmFrames {
		j.free = append(j.free, j.past[0])
		j.past = j.past[1:]
	}
}

// settle fixes the first frame: it looks back from the confirmed one for as
// long as the same place already differed, by the weaker threshold.
func (j *judge) settle(r *reading) {
	f := &found{frame: r.frame, since: j.lastSeen + 1, region: r.region(j.layout), score: r.score}
	near := j.grow(r.blocks, nil)
	for i := len(j.past) - 1; i >= 0; i-- {
		p := j.past[i]
		over := j.over(p.weak, near)
		switch {
		case p.differs():
			near, f.region = j.grow(p.blocks, near), p.region(j.layout)
		case len(over) > 0:
			near, f.region = j.join(near, over), bounds(over, j.layout)
		case r.whole > 1 && p.whole > wholeWeak:
		default:
			i = 0
			continue
		}
		f.frame, f.score = p.frame, p.score
		f.since = p.frame
		if i > 0 {
			f.since = j.past[i-1].frame + 1
		}
	}
	j.found = f
	for n := len(j.suspects); n > 0 && j.suspects[n-1].Frame >= f.frame; n = len(j.suspects) {
		j.suspects = j.suspects[:n-1]
	}
}

// over gives those of the blocks whose reading is beyond its threshold.
func (j *judge) over(reading []float32, blocks []int) (out []int) {
	for _, b := range blocks {
		if reading[b] > 1 {
			out = append(out, b)
		}
	}
	return out
}

// join adds to a set of blocks the neighbours of others.
func (j *judge) join(set, others []int) []int {
	in := make([]float32, j.layout.Blocks())
	for _, b := range others {
		in[b] = 2
	}
	return j.grow(in, set)
}

// grow gives the blocks beyond the threshold, their neighbours, and those of
// set.
func (j *judge) grow(reading []float32, set []int) (out []int) {
	cols, rows := j.layout.Cols(), j.layout.Rows()
	in := make([]bool, len(reading))
	for _, b := range set {
		in[b] = true
	}
	for i, s := range reading {
		if s <= 1 {
			continue
		}
		x, y := i%cols, i/cols
		for yy := max(0, y-1); yy <= min(rows-1, y+1); yy++ {
			for xx := max(0, x-1); xx <= min(cols-1, x+1); xx++ {
				in[yy*cols+xx] = true
			}
		}
	}
	for i, v := range in {
		if v {
			out = append(out, i)
		}
	}
	return out
}

// classify says what kind of divergence the evidence is; nil when there is
// none. New kinds are new rules in this list; the first that holds wins.
func classify(a, b Run, pic *found, gap *readGap, last console.Frame) *Divergence {
	for _, rule := range []func(Run, Run, *found, *readGap, console.Frame) *Divergence{
		inputRule, pictureRule, endRule,
	} {
		if d := rule(a, b, pic, gap, last); d != nil {
			d.A, d.B = a.Name, b.Name
			return d
		}
	}
	return nil
}

// inputRule: the read logs differ at or before the first picture that does.
func inputRule(a, b Run, pic *found, gap *readGap, _ console.Frame) *Divergence {
	if pic == nil || gap == nil || gap.frame > pic.frame {
		return nil
	}
	return &Divergence{
		Kind: KindInput, Frame: pic.frame, Since: max(pic.since, min(gap.frame, pic.frame)), Read: gap.read,
		Region: pic.region, Score: pic.score,
		Why: fmt.Sprintf("%s; the picture first differs at frame %d", gap.why, pic.frame) + pic.blind(),
	}
}

// pictureRule: the pictures differ and no read log differs before them.
func pictureRule(a, b Run, pic *found, _ *readGap, _ console.Frame) *Divergence {
	if pic == nil {
		return nil
	}
	why := fmt.Sprintf("the picture of %s first differs from that of %s at frame %d", b.Name, a.Name, pic.frame)
	if len(a.Reads) > 0 && len(b.Reads) > 0 {
		why += "; every read before it is the same"
	} else {
		why += "; without both read logs the cause may be the input"
	}
	return &Divergence{
		Kind: KindPicture, Frame: pic.frame, Since: pic.since, Read: readAt(b.Reads, a.Reads, pic.frame),
		Region: pic.region, Score: pic.score, Why: why + pic.blind(),
	}
}

// blind says when the true first frame may be earlier.
func (p *found) blind() string {
	switch n := p.frame - p.since; {
	case n <= 0:
		return ""
	case n == 1:
		return fmt.Sprintf("; frame %d was not seen in both and may differ already", p.since)
	}
	return fmt.Sprintf("; frames %d to %d were not seen in both and may differ already", p.since, p.frame-1)
}

// endRule: one run stops before the other.
func endRule(a, b Run, _ *found, _ *readGap, last console.Frame) *Divergence {
	first, other := a, b
	if b.last() < a.last() {
		first, other = b, a
	}
	gap := other.last() - first.last()
	if gap == 0 || gap <= tailMargin && !first.EndedEarly {
		return nil
	}
	why := fmt.Sprintf("%s ends at frame %d, %s goes on to frame %d", first.Name, first.last(), other.Name, other.last())
	if first.EndWhy != "" {
		why += ": " + first.EndWhy
	}
	return &Divergence{Kind: KindEnd, Frame: last + 1, Since: last + 1, Read: readAt(first.Reads, nil, last), Why: why}
}

// readAt is the last read at or before a frame, -1 when there is none.
func readAt(reads, other []ReadInfo, f console.Frame) program.Read {
	if len(reads) == 0 {
		reads = other
	}
	out := program.Read(-1)
	for _, r := range reads {
		if r.Frame > f {
			break
		}
		out = r.Read
	}
	return out
}
