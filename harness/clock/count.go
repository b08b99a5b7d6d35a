package clock

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"latchproof/harness/stats"
)

// A row whose instants are strewn over much of the period cannot be found by
// their phases, and the nearest tick of an instant need not be its own. But the
// instants are in the order of their ticks, no two on one tick, so most can be
// counted.

const (
	behind = 40 // ticks that an instant may come late, for counting
	ahead  = 8  // and early
	chase  = 1.0 / 32
	share  = 10 // periods that it costs to share a tick
)

// count gives every time its tick on a row: the strictly ascending ticks n with
// the smallest sum of |t - at(n)|, found by dynamic programming over the ticks
// from behind before to ahead after the nearest one (R. Bellman, Dynamic
// Programming, 1957). Least distances rather than squares, so that a few very
// late instants count little. With track every path moves the row towards its
// own instants (each by 1/32 of what it is off), so that the phase need not be
// known and may wander: a path that steps over a tick that was not missing is
// off by a period from there on, and loses. When more instants come at once than the
// window holds, several share a tick; that costs ten periods each.
func count(times []float64, at func(tick float64) float64, nearest func(t float64) float64, period float64, track bool) []int64 {
	const width = behind + ahead + 1
	type state struct {
		cost, shift float64 // shift of the row, seconds
	}
	n := len(times)
	prev, next := make([]state, width), make([]state, width)
	from := make([]int8, n*width) // index into the states before; -1 at the start
	base := make([]int64, n)
	shift := 0.0
	for i, t := range times {
		base[i] = int64(math.Round(nearest(t-shift))) - behind
		low, arg := math.Inf(1), -1
		reach := 0 // states of prev that are before the present tick
		for j := range width {
			tick := base[i] + int64(j)
			if i == 0 {
				low, arg = 0, 0
			} else {
				for ; reach < width && base[i-1]+int64(reach) < tick; reach++ {
					if prev[reach].cost < low {
						low, arg = prev[reach].cost, reach
					}
				}
			}
			cost, a := low, arg
			if i > 0 {
				// The same tick once more.
				if k := tick - base[i-1]; k >= 0 && k < width && prev[k].cost+share*period < cost {
					cost, a = prev[k].cost+share*period, int(k)
				}
			}
			if math.IsInf(cost, 1) {
				next[j] = state{cost: cost}
				from[i*width+j] = -1
				continue
			}
			s := state{shift: shift}
			if i > 0 {
				s.shift = prev[a].shift
			}
			r := t - s.shift - at(float64(tick))
			s.cost = cost + math.Abs(r)
			if track {
				s.shift += chase * r
			}
			next[j] = s
			from[i*width+j] = int8(a)
		}
		best := 0
		for j := range next {
			if next[j].cost < next[best].cost {
				best = j
			}
		}
		if track {
			shift = next[best].shift
		}
		// Costs stay small numbers.
		for j, c := 0, next[best].cost; j < width; j++ {
			next[j].cost -= c
		}
		prev, next = next, prev
	}
	best := 0
	for j := range prev {
		if prev[j].cost < prev[best].cost {
			best = j
		}
	}
	ticks := make([]int64, n)
	for i := n - 1; i >= 0; i-- {
		ticks[i] = base[i] + int64(best)
		best = int(from[i*width+best])
	}
	return ticks
}

// countGrid lays a row through times by counting them: for jitter that
// fitGrid's phases cannot stand. Start is the expected period and must be within
// 1 % of the true one: so strewn a row does not give it away. Ticks are as of
// fitGrid.
func countGrid(times []float64, start float64) (*grid, []int64, error) {
	period := start
	var ticks []int64
	var blocks []block
	for range 2 {
		at := func(n float64) float64 { return times[0] + n*period }
		ticks = count(times, at, func(t float64) float64 { return (t - times[0]) / period }, period, true)
		blocks = cut(times, ticks, period)
		if len(blocks) == 0 {
			return nil, nil, fmt.Errorf("%w: fewer than %d", ErrUnsteady, minBlock)
		}
		kept := centroids(blocks, times, ticks, period, math.Inf(1))
		p, ok := knotPeriod(kept, times, ticks, period, math.Inf(1))
		if !ok || math.Abs(p/start-1) > 1e-2 {
			return nil, nil, fmt.Errorf("%w: strewn too far to find their rate", ErrUnsteady)
		}
		period = p
	}
	half := middle(blocks)
	if half > countedHalf {
		return nil, nil, fmt.Errorf("%w: the middle half of them spreads over %.1f %% of the period", ErrUnsteady, 200*half)
	}
	return lay(blocks, times, ticks, period, half, math.Inf(1))
}

// cut makes blocks of counted instants.
func cut(times []float64, ticks []int64, period float64) []block {
	var blocks []block
	n := len(times)
	if n < minBlock {
		return nil
	}
	parts := max(1, (n+blockSize/2)/blockSize)
	for p := range parts {
		b := block{from: n * p / parts, to: n * (p + 1) / parts}
		res := make([]float64, 0, b.to-b.from)
		for i := b.from; i < b.to; i++ {
			res = append(res, times[i]-times[b.from]-float64(ticks[i]-ticks[b.from])*period)
		}
		slices.Sort(res)
		h := len(res)/2 + 1
		b.half = math.Inf(1)
		for i := 0; i+h <= len(res); i++ {
			b.half = min(b.half, (res[i+h-1]-res[i])/2/period)
		}
		blocks = append(blocks, b)
	}
	return blocks
}

// A tick is certain when every other way to give ticks to the instants is less
// likely by exp(-certain), and no rarity of a single instant counts for more
// than exp(-rarest).
const (
	certain = 14.0
	rarest  = 28.0
	stretch = 1.3 // how much farther out than seen the tail may reach
	// An instant beside a gap must moreover be within so many sigmas of its
	// tick: one that is not may be a very late one of the tick before.
	punctual = 3
)

// ticksOf gives every time its most likely tick on the row, and says of which
// it is certain. given are their ticks by count, whose distances show how the
// times are strewn: an instant as far off as x has the cost
//
//	min(x*x/(2*sigma*sigma), -ln(share of the instants beyond x/1.3 on that side),
//	    -ln(share beyond x by the exponential through the 80 and 98 % points of that side), 28)
//
// which is that of a normal row with the tails that were seen. Costs add up, by
// the two passes of the min-sum algorithm over ascending ticks, and a tick is
// certain when the best way through another one costs 14 more (a chance of
// 1e-6). The instants beside a gap are certain only where the jitter does not
// reach over a tick, and when they are on it within three sigmas.
func ticksOf(times []float64, g *grid, given []int64) (ticks []int64, sure []bool) {
	n := len(times)
	off := make([]float64, n)
	for i, t := range times {
		off[i] = t - g.at(float64(given[i]))
	}
	tail := newTail(off, g.period)
	below, above := int64(math.Ceil(stretch*tail.late/g.period))+1, int64(math.Ceil(stretch*tail.early/g.period))+1
	width := int(below + above + 1)
	local := make([]float64, n*width) // cost of the instant alone
	fore := make([]float64, n*width)  // cheapest way up to and including it
	for i, t := range times {
		base := given[i] - below
		low, reach := 0.0, 0
		if i > 0 {
			low = math.Inf(1)
		}
		for j := range width {
			tick := base + int64(j)
			c := tail.cost(t - g.at(float64(tick)))
			local[i*width+j] = c
			if i > 0 {
				before := given[i-1] - below
				for ; reach < width && before+int64(reach) < tick; reach++ {
					low = min(low, fore[(i-1)*width+reach])
				}
				if k := tick - before; k >= 0 && k < int64(width) {
					fore[i*width+j] = min(low, fore[(i-1)*width+int(k)]+share*rarest) + c
					continue
				}
			}
			fore[i*width+j] = low + c
		}
		level(fore[i*width : (i+1)*width])
	}
	ticks, sure = make([]int64, n), make([]bool, n)
	back := make([]float64, width) // cheapest way from it to the end, without itself
	for i := n - 1; i >= 0; i-- {
		base := given[i] - below
		if i < n-1 {
			next := make([]float64, width)
			after := given[i+1] - below
			low, reach := math.Inf(1), width-1
			for j := width - 1; j >= 0; j-- {
				tick := base + int64(j)
				for ; reach >= 0 && after+int64(reach) > tick; reach-- {
					low = min(low, back[reach]+local[(i+1)*width+reach])
				}
				next[j] = low
				if k := tick - after; k >= 0 && k < int64(width) {
					next[j] = min(low, back[k]+local[(i+1)*width+int(k)]+share*rarest)
				}
			}
			level(next)
			back = next
		}
		best, second := math.Inf(1), math.Inf(1)
		for j := range width {
			c := fore[i*width+j] + back[j]
			switch {
			case c < best:
				second, best = best, c
				ticks[i] = base + int64(j)
			case c < second:
				second = c
			}
		}
		x := times[i] - g.at(float64(ticks[i]))
		lonely := second-best < 2*rarest && math.Abs(x) > punctual*tail.sigma
		sure[i] = second-best >= certain && !lonely
	}
	for i := 1; i < n; i++ {
		if ticks[i] <= ticks[i-1] {
			sure[i], sure[i-1] = false, false
		}
	}
	return ticks, sure
}

// level takes the smallest off, so that costs stay small numbers.
func level(c []float64) {
	low := slices.Min(c)
	if math.IsInf(low, 0) {
		return
	}
	for j := range c {
		c[j] -= low
	}
}

// tail is how far off their ticks the instants are seen to be, either side.
type tail struct {
	sigma       float64
	late, early float64   // farthest, seconds
	lates       []float64 // distances of the late ones, ascending
	earlies     []float64
	n           float64
}

func newTail(off []float64, period float64) tail {
	t := tail{n: float64(len(off))}
	abs := make([]float64, len(off))
	for i, x := range off {
		abs[i] = math.Abs(x)
		if x > 0 {
			t.lates = append(t.lates, x)
		} else {
			t.earlies = append(t.earlies, -x)
		}
	}
	// 1.4826 median absolute deviations are the sigma of a normal row.
	t.sigma = max(1.4826*stats.Median(abs), 20e-6)
	if t.sigma > period/8 {
		// Counted instants lie nearer to their ticks than the true ones: where
		// tick and neighbour are alike, the nearer was taken.
		t.sigma *= 1.5
	}
	slices.Sort(t.lates)
	slices.Sort(t.earlies)
	if k := len(t.lates); k > 0 {
		t.late = min(t.lates[k-1], (behind-2)*period/stretch)
	}
	if k := len(t.earlies); k > 0 {
		t.early = min(t.earlies[k-1], (ahead-2)*period/stretch)
	}
	return t
}

func (t *tail) cost(x float64) float64 {
	side := t.lates
	if x < 0 {
		x, side = -x, t.earlies
	}
	c := min(x*x/(2*t.sigma*t.sigma), rarest)
	n := len(side)
	if n == 0 {
		return c
	}
	if beyond := n - sort.SearchFloat64s(side, x/stretch); beyond > 0 {
		c = min(c, -math.Log(float64(beyond)/t.n))
	}
	a, b := side[n*80/100], side[n*98/100]
	if scale := (b - a) / math.Ln10; scale > 0 && x > b {
		c = min(c, -math.Log(0.02*float64(n)/t.n)+(x-b)/scale)
	}
	return c
}
