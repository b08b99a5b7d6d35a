package baseline

import (
	"math"
	"slices"

	"latchproof/harness/clock"
	"latchproof/harness/record"
)

// Numbers are what the read log of one run says of its reads. What is not known
// is NaN, or -1 for a count.
type Numbers struct {
	// JitterUS is the RMS of the read times about the console's frame grid,
	// microseconds: clock.ReadFit.Jitter.
	JitterUS float64
	// How long after the latch pulse the board had the first bit out,
	// microseconds; NaN when the board does not tell.
	ServiceMedianUS, ServiceWorstUS float64
	// OddClocks is how many reads had clock pulses that are no multiple of 8,
	// Underruns how many latch pulses were served without program data,
	// LateServes how many reads the console took before the first bit was out
	// (-1: the board does not tell).
	OddClocks, Underruns, LateServes int64
	// Reads, and how they lie in the frames: frames without a read, reads beyond
	// the first of their frame, reads off the grid, and reads of several latch
	// pulses.
	Reads, LagFrames, ExtraReads, LateReads, DoubleReads int64
}

// Unknown are numbers of which none is known.
func Unknown() Numbers {
	nan := math.NaN()
	return Numbers{
		JitterUS: nan, ServiceMedianUS: nan, ServiceWorstUS: nan, OddClocks: -1, Underruns: -1, LateServes: -1,
		Reads: -1, LagFrames: -1, ExtraReads: -1, LateReads: -1, DoubleReads: -1,
	}
}

// NumbersOf takes them from a sealed run. Without a read log none is known;
// when no frames can be fitted to it, those that need frames are not. The error
// is that of reading the log.
func NumbersOf(rec *record.Run) (Numbers, error) {
	n := Unknown()
	if !rec.Has(record.ReadsFile) {
		return n, nil
	}
	latches, err := rec.Reads()
	if err != nil {
		return n, err
	}
	if len(latches) == 0 {
		return n, nil
	}
	p := rec.Meta.Console.Profile()
	events := clock.Group(latches, p.BurstGap)
	n.Reads, n.OddClocks, n.DoubleReads, n.Underruns = int64(len(events)), 0, 0, int64(len(rec.Meta.Underruns))
	for _, e := range events {
		if e.OddClocks > 0 {
			n.OddClocks++
		}
		if e.Pulses > 1 {
			n.DoubleReads++
		}
	}
	if err := n.service(rec); err != nil {
		return n, err
	}
	fit, err := clock.FitReads(events, p.Rate)
	if err != nil {
		return n, nil // a clock like that is not a measured one, and the run is left out for it
	}
	n.JitterUS = float64(fit.Jitter) / 1e3
	n.LagFrames, n.ExtraReads, n.LateReads = int64(len(fit.LagFrames())), int64(len(fit.ExtraReads())), int64(len(fit.LateReads()))
	return n, nil
}

// service takes what the board tells of how fast it was.
func (n *Numbers) service(rec *record.Run) error {
	rows, err := rec.Service()
	if err != nil || len(rows) == 0 {
		return err
	}
	n.LateServes = 0
	all := make([]float64, len(rows))
	for i, r := range rows {
		all[i] = float64(r.Latency) / 1e3
		if r.Late {
			n.LateServes++
		}
	}
	slices.Sort(all)
	n.ServiceMedianUS, n.ServiceWorstUS = middle(all), all[len(all)-1]
	return nil
}

// middle is the median of values in order.
func middle(x []float64) float64 { return (x[(len(x)-1)/2] + x[len(x)/2]) / 2 }

// sameReads says whether two runs' reads lie alike in their frames.
func (n Numbers) sameReads(o Numbers) bool {
	return n.Reads == o.Reads && n.LagFrames == o.LagFrames && n.ExtraReads == o.ExtraReads &&
		n.LateReads == o.LateReads && n.DoubleReads == o.DoubleReads
}
