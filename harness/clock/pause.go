package clock

import (
	"fmt"
	"math"
	"slices"

	"latchproof/harness/stats"
)

const pauseWindow = 256 // instants looked at on either side of a pause

// pauses looks at every pause of breakGap ticks or more: does the row go on
// after it where it would have without? Two parallel lines are fitted by least
// squares to the instants before and after, with one slope of their own, so
// that no step hides in the slope of a longer row. A step beyond 0.1 ms, eight
// standard errors and the wander allowed for the pause is a break.
func (g *grid) pauses(times []float64, ticks []int64) error {
	for i := 1; i < len(times); i++ {
		if ticks[i]-ticks[i-1] < breakGap {
			continue
		}
		before := g.side(times, ticks, max(0, i-pauseWindow), i)
		after := g.side(times, ticks, i, min(len(times), i+pauseWindow))
		if before.count < minBlock || after.count < minBlock {
			continue
		}
		sxx := before.sxx + after.sxx
		slope := (before.sxy + after.sxy) / sxx
		dn := after.n - before.n
		step := after.r - before.r - slope*dn
		rss := before.syy + after.syy - slope*(before.sxy+after.sxy)
		variance := max(0, rss) / float64(before.count+after.count-3)
		se := math.Sqrt(variance * (1/float64(before.count) + 1/float64(after.count) + dn*dn/sxx))
		limit := 100e-6 + 8*se + wanderStep*g.period*float64(ticks[i]-ticks[i-1])
		if math.Abs(step) > limit {
			return fmt.Errorf("%w: after a pause of %.2f s, %.1f s from the start, it goes on %.2f ms off the grid (a reset, or another moment of reading)",
				ErrBroken, times[i]-times[i-1], times[i], 1e3*step)
		}
	}
	return nil
}

// side holds the sums of the instants on one side of a pause: n is the mean
// tick, r the mean time less tick*period.
type side struct {
	count         int
	n, r          float64
	sxx, sxy, syy float64
}

func (g *grid) side(times []float64, ticks []int64, from, to int) (s side) {
	// Strays are those far from the median, by the median of the distances.
	res := make([]float64, to-from)
	for i := range res {
		res[i] = times[from+i] - float64(ticks[from+i])*g.period
	}
	centre := stats.Median(slices.Clone(res))
	dev := make([]float64, len(res))
	for i, r := range res {
		dev[i] = math.Abs(r - centre)
	}
	width := 4*stats.Median(dev) + 20e-6
	var ns, rs []float64
	for i, r := range res {
		if math.Abs(r-centre) <= width {
			ns, rs = append(ns, float64(ticks[from+i])), append(rs, r)
			s.n += float64(ticks[from+i])
			s.r += r
		}
	}
	s.count = len(ns)
	s.n /= float64(s.count)
	s.r /= float64(s.count)
	for i := range ns {
		dn, dr := ns[i]-s.n, rs[i]-s.r
		s.sxx += dn * dn
		s.sxy += dn * dr
		s.syy += dr * dr
	}
	return s
}
