package baseline

import (
	"errors"
	"math"

	"latchproof/harness/readtiming"
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
	// Underruns how many reads were served without program data,
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

// NumbersOf takes them from a sealed run; package readtiming says what each is.
// Without a read log none is known; when no frames can be fitted to it, those that
// need frames are not. The error is that of reading the record.
func NumbersOf(rec *record.Run) (Numbers, error) {
	n := Unknown()
	s, err := readtiming.OfRun(rec)
	if errors.Is(err, readtiming.ErrNoLog) || !rec.Has(record.ReadsFile) {
		return n, nil
	}
	if err != nil && s.Untold == "" {
		return n, err
	}
	odd := map[int64]bool{}
	for _, c := range s.OddClocks {
		odd[c.Read] = true
	}
	n.Reads, n.OddClocks, n.Underruns = s.Reads, int64(len(odd)), int64(len(s.Underruns))
	if v := s.Service; v != nil {
		n.ServiceMedianUS, n.ServiceWorstUS, n.LateServes = v.MedianUS, v.WorstUS, int64(len(s.LateServes))
	}
	if s.Untold != "" {
		return n, nil
	}
	n.JitterUS = s.JitterRMSUS
	n.LagFrames, n.ExtraReads, n.LateReads, n.DoubleReads = int64(len(s.LagFrames)), int64(len(s.ExtraReads)), int64(len(s.OffGrid)), int64(len(s.DoubleReads))
	return n, nil
}

// middle is the median of values in order.
func middle(x []float64) float64 { return (x[(len(x)-1)/2] + x[len(x)/2]) / 2 }

// sameReads says whether two runs' reads lie alike in their frames.
func (n Numbers) sameReads(o Numbers) bool {
	return n.Reads == o.Reads && n.LagFrames == o.LagFrames && n.ExtraReads == o.ExtraReads &&
		n.LateReads == o.LateReads && n.DoubleReads == o.DoubleReads
}
