package clock

import (
	"time"

	"latchproof/harness/feeder"
	"latchproof/specs/program"
)

// ReadEvent is one controller read: one latch pulse, or several closer
// together than the burst gap.
type ReadEvent struct {
	First     int           // index of the first pulse in the log handed in
	Pulses    int           // latch pulses of this read
	Time      int64         // board clock of the first pulse, microseconds
	State     program.State // state served at the first pulse
	Clocks    uint8         // clock pulses after all of its latch pulses together, port 1; at most 255
	Clocks2   uint8         // the same on port 2
	OddClocks int           // pulses of this read whose clock count is not a multiple of 8, on either port
	Mixed     bool          // the pulses of this read were not all served the same state
	Lost      int64         // log records that were lost between the read before and this one
	After     []int64       // microseconds from the first pulse to each further one; nil when there is none
}

// Group makes reads of latch pulses: a pulse less than gap after the one
// before it belongs to the same read. The reads are in the order of the log,
// so the index of an event is its program.Read; from the first event with a
// Lost count on that is not certain, for a lost pulse may have been a read or
// part of one. A pulse whose time is before
// the one in front of it starts a read of its own; FitReads refuses such a
// log.
func Group(latches []feeder.Latch, gap time.Duration) []ReadEvent {
	events := make([]ReadEvent, 0, len(latches))
	limit := gap.Microseconds()
	for i, l := range latches {
		odd := 0
		if l.Clocks%8 != 0 || l.Clocks2%8 != 0 {
			odd = 1
		}
		state := program.State{P1: l.P1, P2: l.P2}
		if i > 0 {
			if d := l.Micros - latches[i-1].Micros; d >= 0 && d < limit && l.Index <= latches[i-1].Index+1 {
				e := &events[len(events)-1]
				e.Pulses++
				e.After = append(e.After, l.Micros-e.Time)
				e.OddClocks += odd
				e.Clocks = uint8(min(255, int(e.Clocks)+int(l.Clocks)))
				e.Clocks2 = uint8(min(255, int(e.Clocks2)+int(l.Clocks2)))
				e.Mixed = e.Mixed || state != e.State
				continue
			}
		}
		lost := int64(0)
		if i > 0 {
			lost = max(0, l.Index-latches[i-1].Index-1)
		}
		events = append(events, ReadEvent{
			Lost:  lost,
			First: i, Pulses: 1, Time: l.Micros, State: state,
			Clocks: l.Clocks, Clocks2: l.Clocks2, OddClocks: odd,
		})
	}
	return events
}
