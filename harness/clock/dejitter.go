package clock

import (
	"errors"
	"fmt"
	"math"
	"time"

	"latchproof/harness/stats"
)

// row is the card's pictures on their uniform row; seconds from the first
// stamp.
type row struct {
	grid     *grid
	instants []float64 // dejittered
	ticks    []int64   // from 0
	out      []bool    // the stamp is so far out of line that its tick is in doubt
	lost     int       // ticks between the first and the last without a picture
	period   float64   // of the pictures, seconds
	fields   float64   // ticks of a tick of the grid: 2 when the grid is that of woven pictures
	exact    float64   // there is no grid; the instants are those given, within this
}

// doubt bounds the error of an instant, seconds. A stamp out of line may be of
// a neighbouring tick.
func (r *row) doubt(i int) float64 {
	if r.grid == nil {
		return r.exact
	}
	e := r.grid.err(float64(r.ticks[i]) / r.fields)
	if r.out[i] {
		e += r.grid.period
	}
	return e
}

// rowOf is the row of the capture's stamps; see Input.Fields and Input.Exact.
func rowOf(in Input) (*row, error) {
	stamps, rate := in.Stamps, in.CaptureRate
	if in.Fields {
		stamps = nil
		for i := 0; i < len(in.Stamps); i += 2 {
			stamps = append(stamps, in.Stamps[i])
		}
	}
	r, err := dejitter(stamps, rate)
	if err != nil && in.Exact > 0 {
		r, err = asGiven(stamps, in.Exact, err)
	}
	if err != nil || !in.Fields {
		return r, err
	}
	return r.split(len(in.Stamps)), nil
}

// split makes a row of fields of a row of n/2 (or half a one more) pictures.
func (r *row) split(n int) *row {
	s := &row{grid: r.grid, fields: 2, exact: r.exact, period: r.period / 2, lost: 2 * r.lost}
	for k := range n {
		i, second := k/2, k%2
		at := r.instants[i] + float64(second)*r.period/2
		if r.grid != nil {
			at = r.grid.at(float64(r.ticks[i]) + float64(second)/2)
		}
		s.instants = append(s.instants, at)
		s.ticks = append(s.ticks, 2*r.ticks[i]+int64(second))
		s.out = append(s.out, r.out[i])
	}
	return s
}

// asGiven is the row of stamps that are believed as they are; when they cannot
// be, the error is why.
func asGiven(stamps []time.Duration, exact time.Duration, why error) (*row, error) {
	if len(stamps) < minStamps || errors.Is(why, ErrNotAscending) {
		return nil, why
	}
	r := &row{exact: exact.Seconds(), fields: 1, out: make([]bool, len(stamps))}
	steps := make([]float64, 0, len(stamps))
	for i, s := range stamps {
		r.instants = append(r.instants, (s - stamps[0]).Seconds())
		r.ticks = append(r.ticks, int64(i))
		if i > 0 {
			steps = append(steps, r.instants[i]-r.instants[i-1])
			r.out[i] = steps[i-1] <= 0
		}
	}
	if r.period = stats.Median(steps); !(r.period > 0) {
		return nil, why
	}
	return r, nil
}

// dejitter fits the card's own uniform row through the stamps. Ticks without
// a stamp are pictures that were lost on the way. A constant delay of the
// stamps cannot be told from the row and belongs to the latency; so does the
// mean of the jitter, unless it is lopsided: then the row is that of the punctual
// stamps.
//
// Which tick a stamp is of is told by ticksOf. A stamp is out of line when that
// is not certain: beside a lost picture, when stamps are seen to be off by about
// as much as a tick. What cannot be told is a stamp late by a whole tick whose
// next picture was lost, where no other stamp is seen to come late like that.
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
	start := stats.Median(steps)
	if nominal > 0 {
		start = 1 / nominal
	}
	if !(start > 0) {
		return nil, fmt.Errorf("stamps: %w: most are equal", ErrUnsteady)
	}
	g, given, err := fitGrid(times, start, phaseHalf)
	if errors.Is(err, ErrUnsteady) {
		if nominal == 0 {
			start = eighth(times)
		}
		g, given, err = countGrid(times, start)
	} else if err == nil {
		given = count(times, g.at, g.tick, g.period, false)
	}
	if err != nil {
		return nil, fmt.Errorf("stamps: %w", err)
	}
	if nominal > 0 && math.Abs(g.period*nominal-1) > rateLimit {
		return nil, fmt.Errorf("stamps: pictures come at %.3f Hz, and the card gives %.3f Hz", 1/g.period, nominal)
	}
	ticks, sure := ticksOf(times, g, given)
	g.punctual(times, ticks)
	r := &row{grid: g, period: g.period, fields: 1, ticks: ticks, instants: make([]float64, len(stamps)), out: make([]bool, len(stamps))}
	first := ticks[0]
	for i := range ticks {
		r.instants[i] = g.at(float64(ticks[i]))
		r.out[i] = !sure[i]
		ticks[i] -= first
		if i > 0 {
			r.lost += max(0, int(ticks[i]-ticks[i-1])-1)
		}
	}
	for i := range g.knots {
		g.knots[i].n -= float64(first)
	}
	return r, nil
}

// eighth is the median time over eight steps, over eight: the period of a strewn
// row of which little was lost.
func eighth(times []float64) float64 {
	var d []float64
	for i := 8; i < len(times); i++ {
		d = append(d, (times[i]-times[i-8])/8)
	}
	return stats.Median(d)
}
