package clock

import (
	"fmt"
	"math"
	"strings"
	"time"

	"latchproof/specs/console"
	"latchproof/specs/program"
)

// Clock tells which console frame each captured picture is.
type Clock struct {
	State State
	// Why says, in plain words, why the state is not Measured; when it is, it
	// may hold a remark or be empty.
	Why string
	// Contradicted is what the pictures themselves say against the clock; see
	// Contradict.
	Contradicted string
	// Captures has one assignment per stamp.
	Captures []Assignment
	// Latency that was used: the calibrated interval, narrowed by the anchor.
	Latency Interval

	in         Input
	reads      *ReadFit
	pictures   *grid // nil when the stamps fit none
	pictureRow *row
	frameHz    float64 // by the host's clock, or the nearest there is to it
	last       console.Frame
	trusted    console.Frame // last frame that a picture may be given
	captureOf  []int32       // per frame 0..trusted, -1 for none
	maybe      []bool        // per frame: an unsure picture might be of it
	baseGuard  float64
	lost       int
}

const (
	// trustPast is how far past the last read frames are still counted. In
	// 0.25 s even a crystal that was 200 parts per million off moves by 50 us;
	// the guard holds that. Further on nothing shows that the console runs.
	trustPast = 0.25
	maxFrames = 1 << 23 // a day and a half
	minStamps = 8
	// Half width of the middle half of the stamps, ticks: up to the first the row
	// is found by phases, up to the second by counting. The second is that of
	// normal jitter of 0.59 ticks, 9.9 ms at 59.94 Hz.
	phaseHalf   = 0.09
	countedHalf = 0.4
	rateLimit   = 0.05 // of the card's rate from what the bench says
)

// consoleGrid is the console's frames on the host's clock.
type consoleGrid struct {
	reads *ReadFit // nil: an ideal row of this period from 0
	line  Line
	ideal float64
	zero  time.Duration // host time that all seconds count from
}

// at is the host time of the start of a frame, before the latency, seconds
// from zero.
func (c consoleGrid) at(frame float64) float64 {
	if c.reads == nil {
		return frame * c.ideal
	}
	board := c.reads.grid.at(frame+float64(c.reads.shift)) + float64(c.reads.origin-c.line.Board)*1e-6
	return (c.line.Host - c.zero).Seconds() + c.line.Rate*board
}

// frame is the inverse of at.
func (c consoleGrid) frame(host float64) float64 {
	if c.reads == nil {
		return host / c.ideal
	}
	board := (host - (c.line.Host - c.zero).Seconds()) / c.line.Rate
	return c.reads.grid.tick(board-float64(c.reads.origin-c.line.Board)*1e-6) - float64(c.reads.shift)
}

// err bounds the error of at, seconds.
func (c consoleGrid) err(frame float64) float64 {
	if c.reads == nil {
		return 0
	}
	n := frame + float64(c.reads.shift)
	board := c.reads.origin + int64(math.Round(c.reads.grid.at(n)*1e6))
	return c.reads.grid.err(n) + c.line.Err(board).Seconds()
}

// Build makes the clock of a run.
//
// A picture with the instant s (its stamp, dejittered) is of the frame n with
// t(n)+L <= s < t(n+1)+L, where t(n) is the host time of frame n's read on the
// fitted grid and L the latency. It is Sure when s is farther from both ends
// than the guard: half the width of the latency interval, plus the bounds of
// error of the read grid, of the time exchanges and of the dejittering.
//
// The state is Measured with reads, a board line and a calibrated latency. It
// is Assumed when the latency, or the relation of the board's clock to the
// host's, was taken from the anchor alone: then the middle of what the anchor
// allows is used, about half a frame uncertain, and the guard does not
// hold that; Why says so. In all other cases it is Untrusted, and no picture
// is given a frame.
//
// An error (ErrInput) means that the input contradicts itself: Stale of
// another length than Stamps, an interval that ends before it begins, an
// anchor picture that is not in the capture, a rate that is not positive.
// Everything that a bench can do wrong gives a clock that is Untrusted.
func Build(in Input) (*Clock, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	c := &Clock{in: in, reads: in.Reads, last: -1, trusted: -1}
	switch {
	case in.Reads == nil:
		return c.untrusted("there is no read log"), nil
	case in.Reads.grid == nil:
		why := "the read log was not fitted"
		if in.Reads.why != nil {
			why = in.Reads.why.Error()
		}
		return c.untrusted("%s", why), nil
	}
	con := consoleGrid{reads: in.Reads, line: in.Board}
	if len(in.Stamps) > 0 {
		con.zero = in.Stamps[0]
	}
	c.last = in.Reads.LastFrame()
	c.trusted = c.last + console.Frame(trustPast/in.Reads.Period)
	if !in.Board.Known() {
		con.line = Line{Host: con.zero, Board: in.Reads.origin, Rate: 1}
		c.in.Latency = Interval{}
		if in.Anchor == nil {
			return c.untrusted("nothing relates the board's clock to the pictures: no time exchange and no anchor"), nil
		}
		c.State = Assumed
		c.Why = "no time exchange: the board's clock was tied to the pictures by the anchor alone, and its rate was taken to be that of the pictures' clock"
	} else {
		c.State = Measured
	}
	c.frameHz = 1 / (in.Reads.Period * con.line.Rate)
	c.build(con)
	return c, nil
}

// AssumedClock is the clock of a recording with no read log: frames of the
// nominal rate, counted from the anchor; with a nil anchor the first picture
// is taken to be of frame 0. Its state is Assumed at best, and Why says what
// that means. The clock covers frame 0 to the frame of the last picture.
// Errors as for Build.
func AssumedClock(nominal console.Rate, stamps []time.Duration, a *Anchor) (*Clock, error) {
	return assumed(Input{Nominal: nominal, Stamps: stamps, Anchor: a})
}

// Assume is AssumedClock with all that Input says of the pictures (Fields, Exact,
// CaptureRate, Stale); Reads, Board and Latency are not used.
func Assume(in Input) (*Clock, error) { return assumed(in) }

func assumed(in Input) (*Clock, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	in.Reads, in.Board, in.Latency = nil, Line{}, Interval{}
	c := &Clock{in: in, State: Assumed, last: -1, trusted: -1}
	p := in.Nominal.Period()
	c.frameHz = in.Nominal.Hz()
	from := "the anchor"
	if in.Anchor == nil {
		c.in.Anchor = &Anchor{}
		from = "the first picture, taken to be of frame 0"
	}
	c.Why = fmt.Sprintf("no read log: frames were counted at the nominal rate from %s; "+
		"a crystal 50 parts per million off is a whole frame off %.0f s from there", from, p/50e-6)
	con := consoleGrid{ideal: p}
	if len(in.Stamps) > 0 {
		con.zero = in.Stamps[0]
	}
	c.build(con)
	return c, nil
}

func (in Input) check() error {
	switch {
	case !plausible(in.Nominal):
		return fmt.Errorf("%w: nominal frame rate %d/%d", ErrInput, in.Nominal.Num, in.Nominal.Den)
	case in.Stale != nil && len(in.Stale) != len(in.Stamps):
		return fmt.Errorf("%w: %d stale marks for %d pictures", ErrInput, len(in.Stale), len(in.Stamps))
	case in.Latency.Hi < in.Latency.Lo:
		return fmt.Errorf("%w: latency from %v to %v", ErrInput, in.Latency.Lo, in.Latency.Hi)
	case in.Anchor != nil && (in.Anchor.Capture < 0 || in.Anchor.Capture >= len(in.Stamps)):
		return fmt.Errorf("%w: anchor picture %d of %d", ErrInput, in.Anchor.Capture, len(in.Stamps))
	case in.Anchor != nil && in.Anchor.Skip < 0:
		return fmt.Errorf("%w: anchor skips %d", ErrInput, in.Anchor.Skip)
	case in.Anchor != nil && in.Anchor.Frame < 0:
		return fmt.Errorf("%w: anchor frame %d", ErrInput, in.Anchor.Frame)
	case in.CaptureRate < 0 || math.IsNaN(in.CaptureRate) || math.IsInf(in.CaptureRate, 0):
		return fmt.Errorf("%w: capture rate %v Hz", ErrInput, in.CaptureRate)
	case in.Board.Known() && !(math.Abs(in.Board.Rate-1) <= 0.01 && in.Board.RateHalf >= 0 && in.Board.RateHalf <= 0.01 && in.Board.Residual >= 0):
		return fmt.Errorf("%w: board rate %v, half width %v, residual %v", ErrInput, in.Board.Rate, in.Board.RateHalf, in.Board.Residual)
	}
	return nil
}

// plausible frame rates are 1 to 1000 Hz.
func plausible(r console.Rate) bool {
	return r.Num > 0 && r.Den > 0 && r.Hz() >= 1 && r.Hz() <= 1000
}

// untrusted gives up: every picture is unsure (or stale), no frame is seen.
func (c *Clock) untrusted(format string, args ...any) *Clock {
	c.State = Untrusted
	c.Why = fmt.Sprintf(format, args...)
	if c.Captures == nil {
		c.Captures = make([]Assignment, len(c.in.Stamps))
		for i, s := range c.in.Stamps {
			c.Captures[i] = Assignment{Instant: s, Tick: int64(i)}
		}
	}
	for i := range c.Captures {
		c.Captures[i].State = Unsure
		if c.stale(i) {
			c.Captures[i].State = Stale
		}
	}
	c.captureOf, c.maybe = nil, nil
	return c
}

// Distrust makes the clock Untrusted for a reason that it cannot know: every
// picture is unsure from then on, no frame is seen.
func (c *Clock) Distrust(why string) { c.untrusted("%s", why) }

// Contradict notes what the pictures themselves say against the clock. One that
// is Measured is Untrusted from then on; one that is Assumed may be off by half a
// frame anyway.
func (c *Clock) Contradict(why string) {
	if c.State == Measured {
		c.Distrust(why)
	}
	c.Contradicted = why
}

func (c *Clock) stale(i int) bool { return c.in.Stale != nil && c.in.Stale[i] }

func (c *Clock) build(con consoleGrid) {
	rows := c.in.row
	if rows == nil {
		var err error
		if rows, err = rowOf(c.in); err != nil {
			c.untrusted("pictures: %v", err)
			return
		}
	}
	c.pictures, c.pictureRow = rows.grid, rows
	if rows.grid == nil && c.State == Measured {
		c.State = Assumed
		c.Why = "the pictures keep to no uniform rate, so their times are taken from the file as they are"
	}
	c.lost = rows.lost
	latency, ok := c.latency(con, rows)
	if !ok {
		return
	}
	c.Latency = Interval{seconds(latency.lo), seconds(latency.hi)}
	if c.reads == nil {
		c.last = console.Frame(math.Floor(con.frame(rows.instants[len(rows.instants)-1] - latency.mid)))
		c.trusted = c.last
	}
	if c.trusted > maxFrames {
		c.untrusted("the capture spans %d frames, which is too long to be one run", c.trusted)
		c.last, c.trusted = -1, -1
		return
	}
	c.assign(con, rows, latency)
}

// offset is a latency in seconds: the value used, what may be believed of it,
// and how much of that the guard has to hold.
type offset struct{ lo, hi, mid, guard float64 }

// latency intersects the calibrated latency with what the anchor allows.
func (c *Clock) latency(con consoleGrid, rows *row) (offset, bool) {
	in := c.in
	known := in.Latency.Known()
	lo, hi := math.Inf(-1), math.Inf(1)
	if known {
		lo, hi = in.Latency.Lo.Seconds(), in.Latency.Hi.Seconds()
	}
	if a := in.Anchor; a != nil {
		start := con.at(float64(a.Frame))
		doubt := con.err(float64(a.Frame)) + rows.doubt(a.Capture)
		aHi := rows.instants[a.Capture] - start
		aLo := math.Inf(-1)
		for k := a.Capture - 1 - a.Skip; k >= 0; k-- {
			if !c.stale(k) {
				aLo = rows.instants[k] - start
				doubt = max(doubt, con.err(float64(a.Frame))+rows.doubt(k))
				break
			}
		}
		if !known {
			if math.IsInf(aLo, -1) {
				aLo = aHi - rows.period
			}
			if c.State == Measured {
				c.State = Assumed
				c.Why = "the latency of the card was never calibrated: it was taken from the anchor alone"
			}
			c.Why += fmt.Sprintf("; where in a frame the pictures lie is uncertain by %.1f ms either way, about half a frame", 500*(aHi-aLo))
			return offset{aLo, aHi, (aLo + aHi) / 2, 0}, true
		}
		aLo, aHi = aLo-doubt, aHi+doubt
		if aLo > hi || aHi < lo {
			off := con.frame(rows.instants[a.Capture]-(lo+hi)/2) - float64(a.Frame)
			c.untrusted("the anchor contradicts the read log and the calibration: picture %d is the first to show frame %d, "+
				"but it was taken %.2f frames after that frame began (a missed first read, another start, or a wrong calibration)",
				a.Capture, a.Frame, off)
			return offset{}, false
		}
		lo, hi = max(lo, aLo), min(hi, aHi)
	}
	if math.IsInf(lo, -1) || math.IsInf(hi, 1) {
		c.untrusted("the latency of the card is unknown: no calibration and no anchor")
		return offset{}, false
	}
	return offset{lo, hi, (lo + hi) / 2, (hi - lo) / 2}, true
}

// assign gives every picture its frame.
func (c *Clock) assign(con consoleGrid, rows *row, l offset) {
	c.Captures = make([]Assignment, len(rows.instants))
	c.captureOf = make([]int32, max(0, int64(c.trusted)+1))
	for i := range c.captureOf {
		c.captureOf[i] = -1
	}
	c.maybe = make([]bool, len(c.captureOf))
	period := 1 / c.frameHz
	c.baseGuard = math.Inf(1)
	for i, s := range rows.instants {
		x := con.frame(s - l.mid)
		n := math.Floor(x)
		guard := l.guard + con.err(x) + rows.doubt(i)
		low, high := s-l.mid-con.at(n), con.at(n+1)-(s-l.mid)
		a := Assignment{
			Frame:   console.Frame(n),
			Margin:  seconds(max(0, min(low, high))),
			Guard:   time.Duration(math.Ceil(guard * 1e9)),
			Instant: con.zero + seconds(s),
			Tick:    rows.ticks[i],
		}
		// Frames that it may be of.
		from, to := math.Floor(x-guard/period), math.Floor(x+guard/period)
		inside := n >= 0 && n <= float64(c.trusted)
		switch {
		case a.Margin > a.Guard && !rows.out[i] && inside:
			a.State = Sure
		case !inside && (to < 0 || from > float64(c.trusted)):
			a.State = Outside
		}
		c.baseGuard = min(c.baseGuard, guard)
		if c.stale(i) {
			a.State = Stale
		}
		c.Captures[i] = a
		switch a.State {
		case Sure:
			if best := c.captureOf[a.Frame]; best < 0 || a.Margin > c.Captures[best].Margin {
				c.captureOf[a.Frame] = int32(i)
			}
		case Unsure:
			for f := max(from, 0); f <= min(to, float64(c.trusted)); f++ {
				c.maybe[int(f)] = true
			}
		}
	}
	if c.baseGuard >= period/2 {
		c.untrusted("a picture cannot be told from its neighbours: the times are uncertain by %.1f ms, over half a frame", c.baseGuard*1e3)
	}
}

// Anchor builds the clock anew with the knowledge that capture k is the first
// picture that shows the frame. Errors as for Build.
func (c *Clock) Anchor(frame console.Frame, k int) (*Clock, error) {
	in := c.in
	in.Anchor = &Anchor{Frame: frame, Capture: k}
	return in.again(c)
}

// WithStale builds the clock anew with other marks for the pictures that are
// not of their own instant. Errors as for Build.
func (c *Clock) WithStale(stale []bool) (*Clock, error) {
	in := c.in
	in.Stale = stale
	return in.again(c)
}

// again builds the clock c anew from what differs from its input neither in the
// stamps nor in what is known of their row, which is taken over.
func (in Input) again(c *Clock) (*Clock, error) {
	in.row = c.pictureRow
	if c.reads == nil && c.State == Assumed {
		return assumed(in)
	}
	return Build(in)
}

// CaptureOf is the index of the picture of a frame, the one with the largest
// margin when there are several; false when no picture is surely of it.
func (c *Clock) CaptureOf(frame console.Frame) (int, bool) {
	if frame < 0 || int64(frame) >= int64(len(c.captureOf)) || c.captureOf[frame] < 0 {
		return 0, false
	}
	return int(c.captureOf[frame]), true
}

// FrameState says what the capture holds of a frame.
func (c *Clock) FrameState(frame console.Frame) FrameState {
	switch {
	case c.State == Untrusted:
		if frame < 0 || frame > c.trusted {
			return OutOfRange
		}
		return Undecided
	case frame < 0 || int64(frame) >= int64(len(c.captureOf)):
		return OutOfRange
	case c.captureOf[frame] >= 0:
		return Seen
	case c.maybe[frame]:
		return Undecided
	}
	return Unseen
}

// Frames is the range of frames from the first read to the last, both ends
// included; pictures up to 0.25 s after are still given their frames. Ok is
// false when the clock covers none.
func (c *Clock) Frames() (first, last console.Frame, ok bool) {
	return 0, c.last, c.last >= 0
}

// FrameOfRead is the frame in which read r was made.
func (c *Clock) FrameOfRead(r program.Read) (console.Frame, bool) { return c.reads.FrameOfRead(r) }

// ReadAt is the read in force at a frame; see ReadFit.ReadAt.
func (c *Clock) ReadAt(frame console.Frame) (program.Read, bool) { return c.reads.ReadAt(frame) }

// Reads is the fitted read log; nil when there is none.
func (c *Clock) Reads() *ReadFit { return c.reads }

// String is one line about the clock.
func (c *Clock) String() string {
	return strings.TrimSuffix(fmt.Sprintf("%s: %s", c.State, c.Why), ": ")
}
