package clock

import (
	"math"
	"time"
)

// Summary says how a clock was made and how good it is, for run.json and the
// verdicts. Names that end in _us are microseconds.
type Summary struct {
	State State  `json:"state"`
	Why   string `json:"why,omitempty"`
	// Contradicted is what the pictures themselves say against the clock.
	Contradicted string `json:"contradicted,omitempty"`
	// FrameHz is the console's frame rate, by the host's clock when the board's
	// was related to it; PPM is its difference from the profile's rate in parts
	// per million.
	FrameHz     float64 `json:"frame_hz"`
	PPM         float64 `json:"ppm"`
	ReadJitter  float64 `json:"read_jitter_rms_us"`
	Reads       int     `json:"reads"`
	DoubleReads int     `json:"double_reads"`
	LagFrames   int     `json:"lag_frames"` // frames without a read
	ExtraReads  int     `json:"extra_reads"`
	LateReads   int     `json:"late_reads"`
	FirstFrame  int64   `json:"first_frame"`
	LastFrame   int64   `json:"last_frame"` // of the last read; -1 when there is none
	// CaptureHz is the card's picture rate by the host's clock; 0 when it could
	// not be found.
	CaptureHz    float64 `json:"capture_hz"`
	StampJitter  float64 `json:"stamp_jitter_rms_us"`
	Captures     int     `json:"captures"`
	Sure         int     `json:"sure"`
	Unsure       int     `json:"unsure"`
	Outside      int     `json:"outside"`
	Stale        int     `json:"stale"`
	LostPictures int     `json:"lost_pictures"` // missing from the card's uniform row
	// Frames from the first to the last read, by what the capture has of them.
	Seen      int `json:"frames_seen"`
	Unseen    int `json:"frames_unseen"`
	Undecided int `json:"frames_undecided"`
	// The latency that was used, and the smallest guard of any picture.
	LatencyLo float64 `json:"latency_lo_us"`
	LatencyHi float64 `json:"latency_hi_us"`
	Guard     float64 `json:"guard_us"`
	// LinkHalfTrip is half of the shortest round trip to the board: how far a
	// lopsided link could shift everything, unless the latency was calibrated
	// over the same link.
	LinkHalfTrip float64 `json:"link_half_trip_us"`
}

// Summary of the clock.
func (c *Clock) Summary() Summary {
	s := Summary{
		State: c.State, Why: c.Why, Contradicted: c.Contradicted,
		LastFrame:    int64(c.last),
		Captures:     len(c.Captures),
		LostPictures: c.lost,
		LatencyLo:    micros(c.Latency.Lo), LatencyHi: micros(c.Latency.Hi),
		LinkHalfTrip: micros(c.in.Board.HalfTrip),
	}
	if c.frameHz > 0 {
		s.FrameHz = c.frameHz
		s.PPM = (c.frameHz/c.in.Nominal.Hz() - 1) * 1e6
	}
	if !math.IsInf(c.baseGuard, 0) {
		s.Guard = c.baseGuard * 1e6
	}
	if r := c.reads; r != nil {
		s.ReadJitter = micros(r.Jitter)
		s.Reads, s.DoubleReads = len(r.frames), r.Doubles
		s.LagFrames, s.ExtraReads, s.LateReads = len(r.lag), len(r.extra), len(r.late)
	}
	if r := c.pictureRow; r != nil {
		s.CaptureHz = 1 / r.period
	}
	if g := c.pictures; g != nil {
		s.StampJitter = g.sigma * 1e6
	}
	for _, a := range c.Captures {
		switch a.State {
		case Sure:
			s.Sure++
		case Outside:
			s.Outside++
		case Stale:
			s.Stale++
		default:
			s.Unsure++
		}
	}
	for f := range c.last + 1 {
		switch c.FrameState(f) {
		case Seen:
			s.Seen++
		case Undecided:
			s.Undecided++
		case Unseen:
			s.Unseen++
		}
	}
	return s
}

func micros(d time.Duration) float64 { return float64(d) / 1e3 }
