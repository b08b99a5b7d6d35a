package clock

import (
	"errors"
	"time"

	"latchproof/specs/console"
)

// State says how much a clock can be believed.
type State string

// The states of a clock.
const (
	// Measured: frames follow from the read log, the time exchanges and a
	// calibrated latency.
	Measured State = "measured"
	// Assumed: something was taken for granted (the nominal rate, or where
	// inside the frame the pictures lie); Why says what. Every verdict that
	// rests on such a clock carries this word.
	Assumed State = "assumed"
	// Untrusted: no picture may be given a frame number; Why says why.
	Untrusted State = "untrusted"
)

// Interval is a closed range of time. The zero Interval means unknown.
type Interval struct{ Lo, Hi time.Duration }

// Known reports whether the interval was ever set.
func (i Interval) Known() bool { return i != Interval{} }

// Mid is the middle of the interval.
func (i Interval) Mid() time.Duration { return i.Lo + (i.Hi-i.Lo)/2 }

// Half is half the width of the interval, rounded up.
func (i Interval) Half() time.Duration { return (i.Hi - i.Lo + 1) / 2 }

// Around is the interval mid-half to mid+half; the zero Interval when both are
// zero, which is how a bench says that it was never calibrated.
func Around(mid, half time.Duration) Interval { return Interval{mid - half, mid + half} }

// Anchor says which picture of the capture is the first one that shows a
// given frame: picture Capture shows it and picture Capture-1 does not.
type Anchor struct {
	Frame   console.Frame
	Capture int // index into Input.Stamps, from 0
	// Skip is how many pictures just before may be no pictures of their own
	// instants, so that their not showing it means nothing.
	Skip int
}

// CaptureState says what a captured picture may be used for.
type CaptureState uint8

// The states of a captured picture.
const (
	// Unsure: too near to a frame boundary, or its stamp is out of line, or the
	// clock is untrusted. It never counts as a frame.
	Unsure CaptureState = iota
	// Sure: the picture is of Assignment.Frame.
	Sure
	// Outside: taken before frame 0 or after the clock may be trusted.
	Outside
	// Stale: the caller said that the picture is not of its own instant (a
	// repeat made by the card, a damaged picture). It never counts as a frame.
	Stale
)

// String is the lower-case word for the state.
func (s CaptureState) String() string {
	switch s {
	case Sure:
		return "sure"
	case Outside:
		return "outside"
	case Stale:
		return "stale"
	}
	return "unsure"
}

// Assignment is what the clock says about one captured picture.
type Assignment struct {
	// Frame that the instant falls in. Only when State is Sure is it the frame
	// of the picture; otherwise it is the best guess, kept as evidence.
	Frame console.Frame
	// Margin is the distance from the instant to the nearest frame boundary.
	Margin time.Duration
	// Guard is what the margin must exceed for the picture to be Sure.
	Guard time.Duration
	// Instant is the stamp after dejittering, host clock.
	Instant time.Duration
	// Tick is the number of the picture in the card's own uniform row, counting
	// the pictures that never arrived; the first picture has tick 0.
	Tick  int64
	State CaptureState
}

// FrameState says what the capture holds of a console frame.
type FrameState uint8

// The states of a console frame.
const (
	Unseen     FrameState = iota // no picture can be of this frame
	Seen                         // CaptureOf has a picture of it
	Undecided                    // only pictures that might be of it
	OutOfRange                   // not a frame of this run
)

// String is the lower-case word for the state.
func (s FrameState) String() string {
	return [...]string{"unseen", "seen", "undecided", "out of range"}[s&3]
}

// Input is all that a clock is built from.
type Input struct {
	Reads   *ReadFit        // the read log, fitted
	Board   Line            // board clock to host clock; zero when there is none (an imported log)
	Stamps  []time.Duration // host-clock instant of every picture in the file, in order
	Nominal console.Rate    // the console's frame rate by its profile
	// Fields says that every picture of the file is woven of two, taken half a
	// picture's time apart: Stamps, Captures and everything else that counts
	// pictures then count fields, 2n and 2n+1 being those of picture n of the
	// file, the first in time first. Only the stamps of first fields are used.
	Fields bool
	// CaptureRate is the nominal rate of the pictures in the file, hertz; 0 when
	// unknown. It is a start value and a check, never taken as exact.
	CaptureRate float64
	// Exact is how far a stamp may be from its picture's instant when the stamps
	// are those of a container, which may have a variable rate: when no uniform
	// row fits them they are then taken as they are, give or take this. 0: they
	// must fit a row.
	Exact time.Duration
	// Latency from a console frame's read (on the robust line through all
	// reads) to the first instant at which the card can see its picture, as
	// calibrated for the bench; zero when unknown.
	Latency Interval
	Anchor  *Anchor // nil when there is none
	// Stale marks the pictures that are not of their own instant: repeats made
	// by the card, damaged pictures. Nil or as long as Stamps.
	Stale []bool

	row *row // of Stamps, when it was found before; nil: it was not
}

// Errors of this package. Test with errors.Is.
var (
	ErrNoReads      = errors.New("no reads")
	ErrFewReads     = errors.New("too few reads")
	ErrNotAscending = errors.New("times do not ascend")
	ErrUnsteady     = errors.New("reads do not keep to a frame grid")
	ErrOffNominal   = errors.New("frame rate is far from the profile's")
	ErrBroken       = errors.New("the frame grid breaks")
	ErrNoSync       = errors.New("no usable time exchange")
	ErrBoardClock   = errors.New("board clock is far from the host clock")
	ErrInput        = errors.New("bad clock input")
)
