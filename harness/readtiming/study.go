package readtiming

import (
	"math"

	"latchproof/harness/clock"
	"latchproof/harness/feeder"
	"latchproof/specs/console"
)

// Input is what is known of a run's reads.
type Input struct {
	Latches   []feeder.Latch // in the order of their indexes, from that of the release on
	Console   console.Profile
	Underruns []int64          // indexes of the latch pulses
	Board     clock.Line       // board's clock to the host's; zero when unknown
	Service   []feeder.Service // as far as the board told; nil when it did not
}

// MaxBins is how many bins a histogram has at most.
const MaxBins = 81

// Study is what a run's read log says of the timing of its reads.
type Study struct {
	Reads  int64 `json:"reads"`
	Frames int64 `json:"frames"` // from the first read's to the last's
	// Untold is why nothing could be said of frames, rate and jitter: then all of
	// those are zero. Empty when it could.
	Untold string `json:"untold,omitempty"`

	NominalPeriodUS float64 `json:"nominal_period_us"`
	PeriodUS        float64 `json:"period_us"` // by the clock that MeasuredBy says
	PPM             float64 `json:"ppm"`
	HalfPPM         float64 `json:"half_ppm"`
	MeasuredBy      Clock   `json:"measured_by"`

	JitterRMSUS  float64 `json:"jitter_rms_us"`
	JitterPeakUS float64 `json:"jitter_peak_us"`
	Spacing      Spacing `json:"spacing"`
	// Allan is the overlapping Allan deviation, a ratio, and TDEV the time deviation,
	// seconds, of the reads by frame.
	Allan []Stability `json:"allan_deviation"`
	TDEV  []Stability `json:"time_deviation_s"`

	LagFrames   []int64    `json:"lag_frames"`
	DoubleReads []int64    `json:"double_reads"`
	ExtraReads  []int64    `json:"extra_reads"`
	OffGrid     []int64    `json:"off_grid_reads"`
	OddClocks   []OddClock `json:"odd_clocks"`
	NoClocks    []int64    `json:"no_clock_reads"`
	MixedStates []int64    `json:"mixed_state_reads"`
	Underruns   []int64    `json:"underrun_reads"`
	LateServes  []int64    `json:"late_serve_reads"`
	Lost        []Gap      `json:"lost_records"`
	Service     *Service   `json:"service,omitempty"` // nil: the board told nothing

	Anomalies []Anomaly `json:"anomalies"`
	Summary   Summary   `json:"summary"`

	phase  []float64 // seconds by frame; NaN where no read is on the grid
	pulses int64     // in the log
}

// Clock is whose clock a rate was measured by.
type Clock string

// The clocks. When time exchanges were made at one moment only, they say nothing
// of the board's rate, and it is the board's.
const (
	ByHost  Clock = "host"  // the board's, corrected by the host's
	ByBoard Clock = "board" // the board's own crystal, uncorrected
)

// OddClock is a latch pulse after which a port had clock pulses that are no
// multiple of 8.
type OddClock struct {
	Read  int64 `json:"read"`
	Latch int64 `json:"latch"`
	Port  int   `json:"port"` // 1 or 2
	Count int   `json:"count"`
	// Want is the nearest multiple of 8, at least 8.
	Want int `json:"want"`
}

// Gap is a stretch of latch pulses, both ends included.
type Gap struct {
	From int64 `json:"from_latch"`
	To   int64 `json:"to_latch"`
	// Read is the first one after the gap, as counted in the log; for service
	// records, the first of the gap.
	Read int64 `json:"read"`
}

// Len is how many latch pulses it is.
func (g Gap) Len() int64 { return g.To - g.From + 1 }

// Of studies a log. On an error the study holds what does not need frames (clock
// pulses, underruns, latencies, lost records) with their anomalies, and Untold is
// the error's text. Errors are those of clock.FitReads.
func Of(in Input) (Study, error) {
	events := clock.Group(in.Latches, in.Console.BurstGap)
	s := Study{Reads: int64(len(events)), NominalPeriodUS: in.Console.Rate.Period() * 1e6, MeasuredBy: ByBoard}
	s.pulses = int64(len(in.Latches))
	s.count(in, events)
	s.serve(in, events)
	fit, err := clock.FitReads(events, in.Console.Rate)
	if err != nil {
		s.Untold = err.Error()
	} else {
		s.frames(events, fit)
		s.rate(in, fit)
		s.spacing(events, fit)
		s.stability(fit.Period)
	}
	s.tell(events, fit)
	s.sum()
	s.whole()
	return s, err
}

// whole makes lists of nothing empty ones, for JSON.
func (s *Study) whole() {
	for _, l := range []*[]int64{&s.LagFrames, &s.DoubleReads, &s.ExtraReads, &s.OffGrid, &s.NoClocks, &s.MixedStates, &s.Underruns, &s.LateServes} {
		if *l == nil {
			*l = []int64{}
		}
	}
	if s.OddClocks == nil {
		s.OddClocks = []OddClock{}
	}
	if s.Lost == nil {
		s.Lost = []Gap{}
	}
	if s.Allan == nil {
		s.Allan, s.TDEV = []Stability{}, []Stability{}
	}
	if s.Spacing.Bins == nil {
		s.Spacing.Bins = []Bin{}
	}
}

// count takes what each read says by itself.
func (s *Study) count(in Input, events []clock.ReadEvent) {
	starved := map[int64]bool{}
	for _, u := range in.Underruns {
		starved[u] = true
	}
	clocked := 0
	var silent []int64
	for i, e := range events {
		read := int64(i)
		pulses := in.Latches[e.First : e.First+e.Pulses]
		if e.Pulses > 1 {
			s.DoubleReads = append(s.DoubleReads, read)
		}
		if e.Mixed {
			s.MixedStates = append(s.MixedStates, read)
		}
		if e.Clocks > 0 || e.Clocks2 > 0 {
			clocked++
		} else {
			silent = append(silent, read)
		}
		if e.Lost > 0 {
			at := pulses[0].Index
			s.Lost = append(s.Lost, Gap{From: at - e.Lost, To: at - 1, Read: read})
		}
		under := false
		for _, l := range pulses {
			under = under || starved[l.Index]
			for port, n := range [...]uint8{l.Clocks, l.Clocks2} {
				if n%8 != 0 {
					want := max(8, (int(n)+4)/8*8)
					s.OddClocks = append(s.OddClocks, OddClock{Read: read, Latch: l.Index, Port: port + 1, Count: int(n), Want: want})
				}
			}
		}
		if under {
			s.Underruns = append(s.Underruns, read)
		}
	}
	if len(events) > 0 && in.Latches[0].Index > 0 { // indexes begin at 0
		s.Lost = append([]Gap{{From: 0, To: in.Latches[0].Index - 1, Read: 0}}, s.Lost...)
	}
	if 10*clocked >= 9*len(events) {
		s.NoClocks = silent
	}
}

// frames takes what the fit says of frames.
func (s *Study) frames(events []clock.ReadEvent, fit *clock.ReadFit) {
	s.Frames = int64(fit.LastFrame()) + 1
	for _, r := range fit.ExtraReads() {
		s.ExtraReads = append(s.ExtraReads, int64(r))
	}
	for _, r := range fit.LateReads() {
		s.OffGrid = append(s.OffGrid, int64(r))
	}
	for _, f := range fit.LagFrames() {
		if !lostAt(events, fit, f) {
			s.LagFrames = append(s.LagFrames, int64(f))
		}
	}
}

// after is the first read behind a frame without one; -1 when there is none.
func after(fit *clock.ReadFit, f console.Frame) int64 {
	for ; f <= fit.LastFrame(); f++ {
		if first, n := fit.ReadsIn(f); n > 0 {
			return int64(first)
		}
	}
	return -1
}

// lostAt says whether log records are lost where a frame has no read.
func lostAt(events []clock.ReadEvent, fit *clock.ReadFit, f console.Frame) bool {
	r := after(fit, f)
	return r >= 0 && events[r].Lost > 0
}

// rate takes period and ppm.
func (s *Study) rate(in Input, fit *clock.ReadFit) {
	period, nominal := fit.Period, in.Console.Rate.Period()
	// The standard error of the slope of a straight line through n evenly spaced
	// points is sigma*sqrt(12/n^3) a step; the board's microsecond is in sigma.
	n := float64(fit.Reads())
	half := 5 * fit.Jitter.Seconds() * math.Sqrt(12/(n*n*n)) / period
	if in.Board.Known() && in.Board.To > in.Board.From {
		period *= in.Board.Rate
		half += in.Board.RateHalf
		s.MeasuredBy = ByHost
	}
	s.PeriodUS = period * 1e6
	s.PPM = (nominal/period - 1) * 1e6
	s.HalfPPM = half * 1e6
	s.JitterRMSUS = fit.Jitter.Seconds() * 1e6
}
