package judge

import (
	"latchproof/harness/clock"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

// Timer is a timing while a run is watched, for the tests.
type Timer struct{ t *timer }

// NewTimer measures from one event to another; frames are those of the moments.
func NewTimer(from, to specs.Event, rate console.Rate) Timer {
	frameOf := func(m specs.Moment) (console.Frame, error) {
		return m.Frame(nil, nil)
	}
	return Timer{&timer{from: newEvent(from, frameOf), to: newEvent(to, frameOf), rate: rate}}
}

func (t Timer) Look(f console.Frame, s *screen.Screen) error { return t.t.look(f, s) }

// Settle is for a run whose last frame is given.
func (t Timer) Settle(c *clock.Clock, last console.Frame) *Timing { return t.t.settle(c, last) }
