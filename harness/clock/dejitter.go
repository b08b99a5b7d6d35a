package clock

import (
	"errors"
	"fmt"
	"math"
	"time"
)

// row is the card's pictures on their uniform row; seconds from the first
// stamp.
type row struct {
	grid     *grid
	instants []float64 // dejittered
	ticks    []int64   // from 0
	out      []bool    // the stamp is so far out of line that its tick is in doubt
	lost     int       // ticks between the first and the last without a picture
}

// doubt bounds the error of an instant, seconds. A stamp out of line may be of
// a neighbouring tick.
func (r *row) doubt(i int) float64 {
	e := r.grid.err(float64(r.ticks[i]))
	if r.out[i] {
		e += r.grid.period
	}
	return e
}

// dejitter fits the card's own uniform row through the stamps. Ticks without
// a stamp are pictures that were lost on the way. A constant delay of the
// stamps cannot be told from the row and belongs to the latency; so does the
// mean of the jitter.
//
// A stamp is out of line when it is farther from its tick than 1.6 times what
// 95 % of the stamps keep to, or than just that beside a tick without a stamp,
// or than 0.3 ticks, or when it shares its tick with another. What cannot be
// told is a stamp late by a whole tick whose next picture was lost.
func dejitter(stamps []time.Duration, nominal float64) (*row, error) {
	if len(stamps) == 0 {
		return nil, errors.New("the capture is empty")
	}
	times := make([]float64, len(stamps))
	steps := make([]float64, 0, len(stamps))
	for i, s := range stamps {
		times[i] = (s - stamps[0]).Seconds()
		if i > 0 {
			if s < stamps[i-1] {
				return nil, fmt.Errorf("stamps: %w: picture %d at %v, picture %d at %v", ErrNotAscending, i-1, stamps[i-1], i, s)
			}
			steps = append(steps, times[i]-times[i-1])
		}
	}
	if len(stamps) < minStamps {
		return nil, fmt.Errorf("stamps: only %d, and %d are needed to find the card's rate", len(stamps), minStamps)
	}
	start := median(steps)
	if nominal > 0 {
		start = 1 / nominal
	}
	if !(start > 0) {
		return nil, fmt.Errorf("stamps: %w: most are equal", ErrUnsteady)
	}
	g, ticks, err := fitGrid(times, start, spreadStamp)
	if err != nil {
		return nil, fmt.Errorf("stamps: %w", err)
	}
	if nominal > 0 && math.Abs(g.period*nominal-1) > rateLimit {
		return nil, fmt.Errorf("stamps: pictures come at %.3f Hz, and the card gives %.3f Hz", 1/g.period, nominal)
	}
	r := &row{grid: g, ticks: ticks, instants: make([]float64, len(stamps)), out: make([]bool, len(stamps))}
	off := make([]float64, len(stamps))
	for i, t := range times {
		r.instants[i] = g.at(float64(ticks[i]))
		off[i] = math.Abs(t - r.instants[i])
	}
	sorted := make([]float64, len(off))
	copy(sorted, off)
	usual := quantile(sorted, 0.95) + 50e-6
	limit := min(1.6*usual, 0.3*g.period)
	first := ticks[0]
	for i := range ticks {
		r.out[i] = r.out[i] || off[i] > limit
		if i > 0 {
			if ticks[i] == ticks[i-1]+first {
				r.out[i], r.out[i-1] = true, true
			} else if gap := ticks[i] - first - ticks[i-1] - 1; gap > 0 {
				r.lost += int(gap)
				r.out[i] = r.out[i] || off[i] > usual
				r.out[i-1] = r.out[i-1] || off[i-1] > usual
			}
		}
		ticks[i] -= first
	}
	for i := range g.knots {
		g.knots[i].n -= float64(first)
	}
	return r, nil
}
