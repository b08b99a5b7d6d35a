package judge

import (
	"errors"
	"fmt"

	"latchproof/harness/checks"
	"latchproof/harness/clock"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

// Timing is how long it took from one event of the spec to another.
type Timing struct {
	// Verdict is Pass when both events were found, Fail when one surely did not
	// happen, Unseen when that cannot be told.
	Verdict Verdict `json:"verdict"`
	// Frames from the first frame in which the one event was seen to the first in
	// which the other was; unseen frames just before may have had them, so the
	// truth lies in Low..High.
	Frames  int64   `json:"frames"`
	Seconds float64 `json:"seconds"` // Frames at the exact rate of the profile
	Low     int64   `json:"low"`
	High    int64   `json:"high"`
	// SecondsLow and SecondsHigh are Low and High at that rate.
	SecondsLow  float64    `json:"seconds_low"`
	SecondsHigh float64    `json:"seconds_high"`
	From        *EventTime `json:"from,omitempty"` // nil: not found
	To          *EventTime `json:"to,omitempty"`
	Why         string     `json:"why"`
	Clock       string     `json:"clock,omitempty"` // as of Result
}

// EventTime is the frame of an event.
type EventTime struct {
	Event string        `json:"event"` // in words
	Frame console.Frame `json:"frame"` // first frame in which it was seen
	Since console.Frame `json:"since"` // first frame in which it may have been
	// Away is how many pictures before it were not on the shelf (Input.Shelf): in
	// them it may have come sooner.
	Away int `json:"-"`
}

// almost is how near below its threshold a score no longer tells that something
// is not there, for an event: a scaler that blurs takes so much.
const almost = 0.1

// event waits for one event.
type event struct {
	spec specs.Event
	says string

	bad error // a moment has no frame in this run

	there   bool          // the template was there in the last picture
	looked  console.Frame // frame of the last picture looked at, -1 for none
	maybe   console.Frame // first frame in which it may have happened unsaid, -1 for none
	found   bool
	frame   console.Frame
	since   console.Frame
	away    int  // pictures before it that were not at hand
	missing int  // frames without a picture that told, from after on
	blind   bool // the last picture was not at hand
}

func newEvent(e specs.Event, frameOf func(specs.Moment) (console.Frame, error)) *event {
	out := &event{spec: e, looked: -1, maybe: -1}
	switch e.Key {
	case "at":
		out.says = "frame " + e.At.String()
		out.frame, out.bad = frameOf(e.At)
		out.since, out.found = out.frame, out.bad == nil
		if e.At.Mark != "" {
			out.says = e.At.String()
		}
	case "gone":
		out.says = named(e) + " goes"
	default:
		out.says = named(e) + " appears"
	}
	return out
}

// named is what an event's check looks for.
func named(e specs.Event) string {
	if n, ok := e.Check.(interface{ Label() string }); ok {
		return n.Label()
	}
	return e.Key
}

// look takes the next seen picture. Only an event at or after the frame after
// counts, and what went on before is remembered.
func (e *event) look(f console.Frame, s *screen.Screen, after console.Frame) error {
	if e.found || e.spec.Key == "at" {
		return nil
	}
	sight, err := e.spec.Check.(checks.Check).Look(s)
	if err != nil {
		return fmt.Errorf("timing: %s: %w", e.says, err)
	}
	if nearly := !sight.Found && sight.Score >= sight.Threshold-almost && sight.Threshold <= 1; sight.Unsure || nearly {
		// It may be there. As it does not tell, it is as good as unseen; and should
		// this be the event, all that comes later is not.
		if f >= after && !e.there && !e.blind && e.maybe < 0 && nearly && e.spec.Key != "gone" {
			e.maybe = max(e.looked+1, after)
		}
		return nil
	}
	e.missing += max(0, int(f-max(e.looked+1, after)))
	was, blind := e.there, e.blind
	e.there, e.blind = sight.Found, false
	if !blind && f >= after && (e.spec.Key == "gone" && was && !e.there || e.spec.Key != "gone" && !was && e.there) {
		e.found, e.frame, e.since = true, f, max(e.looked+1, after)
		if e.maybe >= 0 {
			e.since = min(e.since, e.maybe)
		}
	}
	e.looked = f
	return nil
}

// miss takes a picture that is not at hand.
func (e *event) miss(f console.Frame) {
	if e.found || e.spec.Key == "at" {
		return
	}
	e.looked, e.blind, e.away = f, true, e.away+1
}

// time is what was found.
func (e *event) time() *EventTime {
	return &EventTime{Event: e.says, Frame: e.frame, Since: e.since, Away: e.away}
}

// timer measures one timing.
type timer struct {
	from, to *event
	rate     console.Rate
}

// newTimer is nil when the spec asks for no timing.
func newTimer(s *specs.Spec, c *clock.Clock) *timer {
	if s == nil || s.Timing == nil {
		return nil
	}
	marks := s.Program.Marks()
	frameOf := func(m specs.Moment) (console.Frame, error) { return m.Frame(c.FrameOfRead, marks) }
	return &timer{from: newEvent(s.Timing.From, frameOf), to: newEvent(s.Timing.To, frameOf), rate: s.Console.Rate}
}

// done says whether nothing later can matter.
func (t *timer) done() bool { return t == nil || t.from.found && t.to.found }

// look takes the next seen picture.
func (t *timer) look(f console.Frame, s *screen.Screen) error {
	if t.done() {
		return nil
	}
	if err := t.from.look(f, s, 0); err != nil {
		return err
	}
	if !t.from.found {
		// What the other one shows meanwhile tells whether it appears later.
		return t.to.look(f, s, f+1)
	}
	after := t.from.frame
	if t.from.says == t.to.says {
		after++ // the same again
	}
	return t.to.look(f, s, after)
}

// miss takes a seen picture that is not at hand.
func (t *timer) miss(f console.Frame) {
	if t.done() {
		return
	}
	t.from.miss(f)
	t.to.miss(f)
}

// settle is the answer when the run was watched to its last frame.
func (t *timer) settle(c *clock.Clock, last console.Frame) *Timing {
	if t == nil {
		return nil
	}
	out := &Timing{Verdict: Unseen}
	if c.State != clock.Measured {
		out.Clock = string(c.State)
	}
	if c.State == clock.Untrusted {
		out.Why = "the frame clock is not trusted: " + c.Why
		return out
	}
	for _, e := range []*event{t.from, t.to} {
		switch {
		case e.bad != nil:
			if errors.Is(e.bad, specs.ErrNoRead) {
				out.Why = fmt.Sprintf("`%s` has no frame in this run: %v", e.spec.At, e.bad)
			} else {
				out.Why = fmt.Sprintf("`%s` cannot be placed in this run: %v", e.spec.At, e.bad)
			}
			return out
		case !e.found:
			missing := e.missing + e.away + int(last-e.looked)
			if e.maybe >= 0 {
				missing = max(missing, 1)
			}
			if out.Why = fmt.Sprintf("%s in no picture of the run", e.says); missing > 0 {
				out.Why += fmt.Sprintf(", and %d frames had none that tells", missing)
			} else {
				out.Verdict = Fail
			}
			return out
		case e == t.from:
			out.From = e.time()
		default:
			out.To = e.time()
		}
	}
	a, b := t.from, t.to
	if b.frame < a.frame {
		out.Verdict = Fail
		out.Why = fmt.Sprintf("%s on frame %d, before %s on frame %d", b.says, b.frame, a.says, a.frame)
		return out
	}
	out.Verdict = Pass
	out.Frames = int64(b.frame - a.frame)
	out.Low, out.High = max(0, int64(b.since-a.frame)), int64(b.frame-a.since)
	out.Seconds, out.SecondsLow, out.SecondsHigh = t.seconds(out.Frames), t.seconds(out.Low), t.seconds(out.High)
	out.Why = fmt.Sprintf("%s from %s (frame %d) to %s (frame %d)", frameCount(out.Frames), a.says, a.frame, b.says, b.frame)
	if out.Low != out.High {
		out.Why += fmt.Sprintf("; %d to %d, for frames before that had no picture that tells", out.Low, out.High)
	}
	return out
}

// seconds is a number of frames at the exact rate of the profile.
func (t *timer) seconds(frames int64) float64 {
	if t.rate.Num == 0 {
		return 0
	}
	return float64(frames) * float64(t.rate.Den) / float64(t.rate.Num)
}

func frameCount(n int64) string {
	if n == 1 {
		return "1 frame"
	}
	return fmt.Sprintf("%d frames", n)
}
