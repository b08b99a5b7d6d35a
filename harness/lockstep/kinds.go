package lockstep

import (
	"fmt"

	"latchproof/specs/console"
	"latchproof/specs/program"
)

// lagOwn is how many pictures that did not shift tell a missed read, after
// which some of the game goes on in its own time, from a lag frame.
const lagOwn = 2

// classify says what kind of divergence the evidence is; nil when there is
// none. The first rule that holds wins.
func (c *comparison) classify(e event, start, last console.Frame) (*Divergence, error) {
	d, err := c.shiftRule(e, start)
	if err != nil {
		return nil, err
	}
	for _, rule := range []func(event, console.Frame) *Divergence{c.inputRule, c.pictureRule, c.endRule} {
		if d == nil {
			d = rule(e, last)
		}
	}
	if d != nil {
		d.A, d.B = c.run[0].Name, c.run[1].Name
	}
	return d, nil
}

// shiftRule: the same pictures, k frames later or earlier. When the read logs
// differ before it, they must say the same: the same reads, as much later.
func (c *comparison) shiftRule(e event, start console.Frame) (*Divergence, error) {
	if !e.locked || e.lock.shift == 0 {
		return nil, nil
	}
	a, b, k := c.run[0], c.run[1], e.lock.shift
	logged := c.gap != nil && c.gap.frame <= e.found.frame
	if logged && (!c.gap.moves || c.gap.late != k) {
		return nil, nil
	}
	course, err := c.follow(e.lock)
	if err != nil {
		return nil, err
	}
	if logged && course.own >= lagOwn {
		return nil, nil
	}
	d := &Divergence{
		Kind: KindShift, Frame: e.found.frame, Since: e.found.since, Read: readAt(b.Reads, a.Reads, e.found.frame),
		Shift: k, Stays: course.stays, Region: e.found.region, Score: e.found.score, Part: PartUnknown,
	}
	d.Why = fmt.Sprintf("from frame %d on %s shows the pictures of %s %s", d.Frame, b.Name, a.Name, inFrames(k))
	if course.stays {
		d.Why += ", to the end"
	}
	d.Why += course.text
	switch {
	case logged:
		d.Part = PartConsole
		d.Since = max(d.Since, min(c.gap.frame, d.Frame))
		lagger, n := b.Name, k
		if k < 0 {
			lagger, n = a.Name, -k
		}
		d.Why += fmt.Sprintf("; its reads are as much so from read %d on: the console of %s lagged by %s", c.gap.read, lagger, frames(n))
	case !c.together(start, d.Frame, k):
		d.Clocks = true
		d.Why += "; they never agree on a moving picture before: the frame clock of one of them may be wrong"
	case len(a.Reads) > 0 && len(b.Reads) > 0:
		d.Part = PartCard
		d.Why += "; its reads keep their frames, so the time that the card takes changed"
	default:
		d.Why += "; without both read logs it is open whether the console or the card is late"
	}
	if err := c.err(); err != nil {
		return nil, err
	}
	d.Why += e.found.blind()
	return d, nil
}

// inputRule: the read logs differ at or before the first picture that does.
func (c *comparison) inputRule(e event, _ console.Frame) *Divergence {
	if e.found == nil || c.gap == nil || c.gap.frame > e.found.frame {
		return nil
	}
	pic := e.found
	return &Divergence{
		Kind: KindInput, Frame: pic.frame, Since: max(pic.since, min(c.gap.frame, pic.frame)), Read: c.gap.read,
		Region: pic.region, Score: pic.score, Part: c.gap.part,
		Why: fmt.Sprintf("%s; the picture first differs at frame %d", c.gap.why, pic.frame) + pic.blind(),
	}
}

// pictureRule: the pictures differ and no read log differs before them.
func (c *comparison) pictureRule(e event, _ console.Frame) *Divergence {
	if e.found == nil {
		return nil
	}
	a, b, pic := c.run[0], c.run[1], e.found
	d := &Divergence{
		Kind: KindPicture, Frame: pic.frame, Since: pic.since, Read: readAt(b.Reads, a.Reads, pic.frame),
		Region: pic.region, Score: pic.score, Part: PartUnknown,
		Why: fmt.Sprintf("the picture of %s first differs from that of %s at frame %d", b.Name, a.Name, pic.frame),
	}
	if len(a.Reads) > 0 && len(b.Reads) > 0 {
		d.Part = PartConsole
		if c.pulses != nil && c.pulses.frame <= pic.frame {
			d.Why += "; every read before it gave the same buttons, but " + c.pulses.why
		} else {
			d.Why += "; every read before it is the same"
		}
	} else {
		d.Why += "; without both read logs the cause may be the input"
	}
	if e.locked {
		d.Why += fmt.Sprintf("; from frame %d on they agree again", e.lock.frame)
	}
	if pic.flickers > 0 {
		d.Part = PartUnknown
		d.Why += fmt.Sprintf("; it flickers: %d pictures up to frame %d differ by themselves, and those between agree, so the console strobes or the card damages pictures", pic.flickers, pic.flickersTo)
	}
	d.Why += pic.blind()
	return d
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
func (c *comparison) endRule(_ event, last console.Frame) *Divergence {
	first, other := c.run[0], c.run[1]
	if other.last() < first.last() {
		first, other = other, first
	}
	gap := other.last() - first.last()
	if gap == 0 || gap <= tailMargin && !first.EndedEarly {
		return nil
	}
	d := &Divergence{Kind: KindEnd, Frame: last + 1, Since: last + 1, Read: readAt(first.Reads, nil, last), Part: first.EndPart}
	d.Why = fmt.Sprintf("%s ends at frame %d, %s goes on to frame %d", first.Name, first.last(), other.Name, other.last())
	if first.EndWhy != "" {
		d.Why += ": " + first.EndWhy
	}
	if d.Part == "" {
		d.Part = PartUnknown
	}
	return d
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
