package clock

import (
	"errors"
	"time"

	"latchproof/harness/feeder"
	"latchproof/specs/console"
	"latchproof/specs/program"
)

var errUnwritten = errors.New("clock: not written yet")

// ReadEvent is one controller read: one latch pulse, or several closer
// together than the burst gap.
type ReadEvent struct {
	First     int           // index of the first pulse in the log handed in
	Pulses    int           // latch pulses of this read
	Time      int64         // board clock of the first pulse, microseconds
	State     program.State // state served at the first pulse
	Clocks    uint8         // clock pulses after the first latch pulse, port 1
	Clocks2   uint8         // the same on port 2
	OddClocks int           // pulses of this read whose clock count is not a multiple of 8, on either port
	Mixed     bool          // the pulses of this read were not all served the same state
}

// Group makes reads of latch pulses.
func Group(latches []feeder.Latch, gap time.Duration) []ReadEvent { return nil }

// Line is the board clock on the host clock.
type Line struct {
	Host     time.Duration
	Board    int64
	Rate     float64
	RateHalf float64
	Residual time.Duration
	HalfTrip time.Duration
	From, To int64
}

// FitBoard fits the line to time exchanges.
func FitBoard(syncs []feeder.Sync) (Line, error) { return Line{}, errUnwritten }

// ReadFit is the read log on the console's frame grid.
type ReadFit struct{}

// FitReads fits the grid.
func FitReads(reads []ReadEvent, nominal console.Rate) (*ReadFit, error) { return nil, errUnwritten }

// FrameOfRead is the frame in which read r was made.
func (f *ReadFit) FrameOfRead(r program.Read) (console.Frame, bool) { return 0, false }

// ReadAt is the read in force at a frame.
func (f *ReadFit) ReadAt(fr console.Frame) (program.Read, bool) { return 0, false }

// LagFrames are the frames without a read, ascending.
func (f *ReadFit) LagFrames() []console.Frame { return nil }

// ExtraReads are the reads beyond the first of their frame, ascending.
func (f *ReadFit) ExtraReads() []program.Read { return nil }

// LateReads are reads off the grid in frames that have no other read.
func (f *ReadFit) LateReads() []program.Read { return nil }

// LastFrame is the frame of the last read.
func (f *ReadFit) LastFrame() console.Frame { return 0 }

// Clock tells which console frame each captured picture is.
type Clock struct {
	State State
	Why   string // why the state is not Measured; warnings otherwise; may be empty
	// Captures has one assignment per stamp.
	Captures []Assignment
}

// Build makes the clock of a run.
func Build(in Input) (*Clock, error) { return nil, errUnwritten }

// AssumedClock is the clock of a recording with no read log.
func AssumedClock(nominal console.Rate, stamps []time.Duration, a *Anchor) (*Clock, error) {
	return nil, errUnwritten
}

// Anchor builds the clock anew with the knowledge that capture k is the first
// picture that shows the frame.
func (c *Clock) Anchor(frame console.Frame, k int) (*Clock, error) { return nil, errUnwritten }

// CaptureOf is the index of the picture of a frame, the one with the largest
// margin when there are several; false when no picture is surely of it.
func (c *Clock) CaptureOf(frame console.Frame) (int, bool) { return 0, false }

// FrameState says what the capture holds of a frame.
func (c *Clock) FrameState(frame console.Frame) FrameState { return OutOfRange }

// Frames is the range of frames the clock covers, both ends included; ok is
// false when it covers none.
func (c *Clock) Frames() (first, last console.Frame, ok bool) { return 0, 0, false }

// FrameOfRead is the frame in which read r was made.
func (c *Clock) FrameOfRead(r program.Read) (console.Frame, bool) { return 0, false }

// ReadAt is the read in force at a frame.
func (c *Clock) ReadAt(frame console.Frame) (program.Read, bool) { return 0, false }

// Summary for run.json and the verdicts.
func (c *Clock) Summary() Summary { return Summary{} }

// Summary says how a clock was made and how good it is. Times are
// microseconds.
type Summary struct {
	State        State   `json:"state"`
	Why          string  `json:"why,omitempty"`
	FrameHz      float64 `json:"frame_hz"`
	PPM          float64 `json:"ppm"`
	ReadJitter   float64 `json:"read_jitter_rms_us"`
	Reads        int     `json:"reads"`
	DoubleReads  int     `json:"double_reads"`
	LagFrames    int     `json:"lag_frames"`
	ExtraReads   int     `json:"extra_reads"`
	LateReads    int     `json:"late_reads"`
	FirstFrame   int64   `json:"first_frame"`
	LastFrame    int64   `json:"last_frame"`
	CaptureHz    float64 `json:"capture_hz"`
	StampJitter  float64 `json:"stamp_jitter_rms_us"`
	Captures     int     `json:"captures"`
	Sure         int     `json:"sure"`
	Unsure       int     `json:"unsure"`
	Outside      int     `json:"outside"`
	Stale        int     `json:"stale"`
	LostPictures int     `json:"lost_pictures"`
	Seen         int     `json:"frames_seen"`
	Unseen       int     `json:"frames_unseen"`
	Undecided    int     `json:"frames_undecided"`
	LatencyLo    float64 `json:"latency_lo_us"`
	LatencyHi    float64 `json:"latency_hi_us"`
	Guard        float64 `json:"guard_us"`
}
