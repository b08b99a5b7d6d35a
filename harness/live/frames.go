package live

import (
	"math"
	"time"

	"latchproof/harness/clock"
	"latchproof/harness/feeder"
	"latchproof/specs/console"
	"latchproof/specs/program"
)

// frames counts the console's frames while its reads come in, by the board's
// clock. It is a plain phase-locked count: what package clock finds afterwards,
// with the whole log at hand, is better.
type frames struct {
	period float64 // nominal, board microseconds
	burst  int64   // pulses nearer than this are one read, microseconds
	line   clock.Line

	any   bool
	index int64   // of the last latch
	last  int64   // board time of the last latch
	ref   float64 // board time of the grid at frame at
	at    int64
	reads []console.Frame // frame of every read
	whole bool            // no log record was lost so far

	drift drift
}

// onGrid is how far a read may be from its frame's start, frames, to move the
// grid, and follow how much of that it moves it.
const onGrid, follow = 0.1, 0.2

func newFrames(p console.Profile, line clock.Line) *frames {
	return &frames{period: 1e6 / p.Rate.Hz(), burst: p.BurstGap.Microseconds(), line: line, whole: true}
}

// latch takes the next log record.
func (f *frames) latch(l feeder.Latch) {
	first, again := !f.any, f.any && l.Micros-f.last < f.burst
	f.whole = f.whole && (first || l.Index == f.index+1)
	f.any, f.index, f.last = true, l.Index, l.Micros
	if again {
		return
	}
	of := int64(0)
	if first {
		f.ref = float64(l.Micros)
	} else {
		x := (float64(l.Micros) - f.ref) / f.period
		n := math.Round(x)
		if n >= 1 && math.Abs(x-n) <= onGrid {
			f.at += int64(n)
			f.ref += (n + follow*(x-n)) * f.period
			of = f.at
		} else { // a moment of its own: it moves nothing
			of = f.at + int64(math.Floor(x))
		}
	}
	if f.whole {
		f.reads = append(f.reads, console.Frame(of))
	}
}

// ofRead is the frame of a read; false when it has not come, or a lost record
// leaves its number unknown.
func (f *frames) ofRead(r program.Read) (console.Frame, bool) {
	if r < 0 || int64(r) >= int64(len(f.reads)) {
		return 0, false
	}
	return f.reads[r], true
}

// board is the board's time at an instant of the host.
func (f *frames) board(host time.Duration) float64 {
	return float64(f.line.Board) + float64(host-f.line.Host-f.drift.shift)/1e3/f.line.Rate
}

// frame is where in the frames an instant lies, and by how much that may be
// wrong, both in frames.
func (f *frames) frame(host time.Duration) (x, doubt float64) {
	b := f.board(host)
	wrong := f.line.Residual + f.drift.doubt
	if !f.drift.known {
		wrong += time.Duration(f.line.RateHalf * math.Abs(b-float64(f.line.Board)) * 1e3)
	}
	return float64(f.at) + (b-f.ref)/f.period, float64(wrong) / 1e3 / f.period
}

// covers says whether the reads up to an instant have come.
func (f *frames) covers(host time.Duration) bool { return f.any && float64(f.last) >= f.board(host) }
