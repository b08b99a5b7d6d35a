package readtiming

import (
	"math"
	"slices"

	"latchproof/harness/clock"
	"latchproof/specs/console"
	"latchproof/specs/program"
)

// Spacing is how far apart the reads of neighbouring frames are, less the
// measured period by the board's clock.
type Spacing struct {
	Count     int64     `json:"count"`
	Quantiles Quantiles `json:"quantiles"`
	BinUS     float64   `json:"bin_us"`
	Bins      []Bin     `json:"bins"`
	Below     int64     `json:"below"` // under the first bin
	Above     int64     `json:"above"` // over the last bin
}

// Quantiles are by nearest rank.
type Quantiles struct {
	MinUS    float64 `json:"min_us"`
	P1US     float64 `json:"p1_us"`
	P5US     float64 `json:"p5_us"`
	P25US    float64 `json:"p25_us"`
	MedianUS float64 `json:"median_us"`
	P75US    float64 `json:"p75_us"`
	P95US    float64 `json:"p95_us"`
	P99US    float64 `json:"p99_us"`
	MaxUS    float64 `json:"max_us"`
}

// Bin counts what is at FromUS or above, and below ToUS.
type Bin struct {
	FromUS float64 `json:"from_us"`
	ToUS   float64 `json:"to_us"`
	Count  int64   `json:"count"`
}

// window is how many frames to either side the peak of the jitter is held
// against.
const window = 30

// spacing takes histogram and peak, and keeps the phase.
func (s *Study) spacing(events []clock.ReadEvent, fit *clock.ReadFit) {
	s.phase = phases(events, fit)
	var d []float64
	for f := 1; f < len(s.phase); f++ {
		if x := s.phase[f] - s.phase[f-1]; !math.IsNaN(x) {
			d = append(d, x*1e6)
		}
	}
	s.Spacing = spacingOf(d)
	s.JitterPeakUS = peak(s.phase) * 1e6
}

// phases are the times of the reads on the grid, by frame, less those of a row
// with the measured period, seconds by the board's clock.
func phases(events []clock.ReadEvent, fit *clock.ReadFit) []float64 {
	off := map[program.Read]bool{}
	for _, r := range slices.Concat(fit.ExtraReads(), fit.LateReads()) {
		off[r] = true
	}
	out := make([]float64, fit.LastFrame()+1)
	last := 0.0 // phase of the read on the grid before
	for f := range out {
		out[f] = math.NaN()
		row := float64(f) * fit.Period
		first, n := fit.ReadsIn(console.Frame(f))
		for r := first; r < first+program.Read(n); r++ {
			if !off[r] {
				out[f] = onGrid(events[r], events[0].Time, row+last) - row
				last = out[f]
			}
		}
	}
	return out
}

// strayFrom is how far from where it is due, in seconds, the first pulse of a read
// must be before a later pulse may stand for it.
const strayFrom = 250e-6

// onGrid is the instant, seconds from the first read, of the pulse of a read that
// is its frame's own: a stray pulse just before it may have made one read with it,
// and the fit then went by the pulse nearest to the grid. due is where the read
// before lets it be expected.
func onGrid(e clock.ReadEvent, start int64, due float64) float64 {
	at := float64(e.Time-start) * 1e-6
	best := at
	for _, a := range e.After {
		x := at + float64(a)*1e-6
		if math.Abs(at-due) > strayFrom && math.Abs(x-due) < math.Abs(best-due) {
			best = x
		}
	}
	return best
}

// peak is the farthest that a point lies from the median of those about it.
func peak(phase []float64) (far float64) {
	var near []float64
	for f, x := range phase {
		if math.IsNaN(x) {
			continue
		}
		// As many to either side, so that a slope cancels.
		reach := min(window, f, len(phase)-1-f)
		if reach < window/2 {
			reach = min(window/2, max(f, len(phase)-1-f))
		}
		near = near[:0]
		for _, y := range phase[max(0, f-reach):min(len(phase), f+reach+1)] {
			if !math.IsNaN(y) {
				near = append(near, y)
			}
		}
		slices.Sort(near)
		far = max(far, math.Abs(x-near[(len(near)-1)/2]))
	}
	return far
}

// spacingOf makes quantiles and histogram of values in microseconds.
func spacingOf(d []float64) Spacing {
	out := Spacing{Count: int64(len(d)), Bins: []Bin{}}
	if len(d) == 0 {
		return out
	}
	slices.Sort(d)
	out.Quantiles = Quantiles{d[0], rank(d, .01), rank(d, .05), rank(d, .25), rank(d, .5), rank(d, .75), rank(d, .95), rank(d, .99), d[len(d)-1]}
	w := max(1, math.Ceil(2*(out.Quantiles.P75US-out.Quantiles.P25US)/math.Cbrt(float64(len(d)))))
	out.BinUS = w
	bin := func(x float64) int { return int(math.Floor(x / w)) }
	mid := bin(out.Quantiles.MedianUS)
	lo, hi := max(bin(d[0]), mid-MaxBins/2), min(bin(d[len(d)-1]), mid+MaxBins/2)
	for b := lo; b <= hi; b++ {
		out.Bins = append(out.Bins, Bin{FromUS: float64(b) * w, ToUS: float64(b+1) * w})
	}
	for _, x := range d {
		switch b := bin(x); {
		case b < lo:
			out.Below++
		case b > hi:
			out.Above++
		default:
			out.Bins[b-lo].Count++
		}
	}
	return out
}

// rank is the quantile by nearest rank of sorted values: the smallest with at
// least a share q at or below it.
func rank(sorted []float64, q float64) float64 {
	return sorted[max(0, int(math.Ceil(q*float64(len(sorted))-1e-9))-1)]
}
