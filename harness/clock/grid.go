package clock

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"latchproof/harness/stats"
)

// A grid is a row of nearly equally spaced instants, t(n) for whole n, with
// slow wander: a line through knots. Both the console's reads and the card's
// pictures are such rows. All times are seconds from an origin that the caller
// keeps.
type grid struct {
	knots  []knot  // at least two, n ascending
	period float64 // of the whole row, seconds
	sigma  float64 // RMS scatter of the instants about the row, seconds
	fit    float64 // bound of the error of t(n) between the knots, seconds
	waist  float64 // how much smaller it is in the middle of a straight row, seconds
	lead   float64 // ticks outside of the knots over which fit doubles
	slack  float64 // how far small steps moved the row, seconds
	width  float64 // what counts as on the row, seconds either side
}

type knot struct{ n, t float64 }

const (
	blockSize = 128 // instants that make one fine knot
	minBlock  = 8   // fewer make none
	restGap   = 30  // ticks without an instant that end a block
	breakGap  = 6   // a step across so many empty ticks is a break, not a shift
	maxGap    = 12500
	// The largest change of rate believed between neighbouring blocks, and the
	// wander allowed for where nothing was measured.
	wanderStep = 20e-6
	wanderFree = 1e-6
	sigmas     = 5
)

// at is the instant of tick n, which may lie between ticks or outside.
func (g *grid) at(n float64) float64 {
	k := g.knots
	i := sort.Search(len(k), func(i int) bool { return k[i].n > n })
	i = min(max(i, 1), len(k)-1)
	a, b := k[i-1], k[i]
	return a.t + (n-a.n)*(b.t-a.t)/(b.n-a.n)
}

// tick is the inverse of at.
func (g *grid) tick(t float64) float64 {
	k := g.knots
	i := sort.Search(len(k), func(i int) bool { return k[i].t > t })
	i = min(max(i, 1), len(k)-1)
	a, b := k[i-1], k[i]
	return a.n + (t-a.t)*(b.n-a.n)/(b.t-a.t)
}

// err bounds the error of at(n).
func (g *grid) err(n float64) float64 {
	k := g.knots
	first, last := k[0].n, k[len(k)-1].n
	out := max(first-n, n-last, 0)
	mid := (first + last) / 2
	e := g.fit*(1+out/g.lead) + g.slack - g.waist*max(0, 1-math.Abs(n-mid)/(last-mid))
	if out > 0 {
		return e + wanderStep*g.period*out
	}
	i := sort.Search(len(k), func(i int) bool { return k[i].n > n })
	i = min(max(i, 1), len(k)-1)
	return e + wanderFree*g.period*max(0, min(n-k[i-1].n, k[i].n-n))
}

// block is a stretch of instants and, once located, its place on the row.
type block struct {
	from, to int     // instants [from, to)
	half     float64 // half width of the shortest half of the phases, ticks
	step     float64 // phase against the prediction from the block before, ticks
	n, t     float64 // centroid of the instants on the row
	count    int     // instants on the row
}

// fitGrid lays a row through ascending times, most of which must lie within
// maxHalf ticks (half width of the middle half) of it. Start is the expected
// period. It gives the row and the nearest tick of every time; the tick of the
// first time is near 0.
//
// The period is found by medians of differences over 1, 2, 4... 512 instants,
// each finding the number of ticks for the next. Then the row is followed
// block by block: on the circle of phases the shortest interval that holds
// half of the block (P. J. Rousseeuw, Journal of the American Statistical
// Association 79:871-880, 1984, the location case of least median of squares)
// gives the centre and scale that up to half of strays cannot move, and the
// mean of the instants near it gives the knot. The row is as smooth as the
// scatter asks for and the wander allows: see smooth.
func fitGrid(times []float64, start, maxHalf float64) (*grid, []int64, error) {
	period, ok := multiscale(times, start)
	if !ok {
		return nil, nil, fmt.Errorf("%w: no common period", ErrUnsteady)
	}
	blocks, ticks := follow(times, period)
	if len(blocks) == 0 {
		return nil, nil, fmt.Errorf("%w: no stretch of %d without a long pause", ErrUnsteady, minBlock)
	}
	kept := centroids(blocks, times, ticks, period, period/4)
	if p, ok := knotPeriod(kept, times, ticks, period, period/4); ok && math.Abs(p/period-1) < 1e-2 {
		// Once more with the better period, so that the steps are true ones.
		period = p
		blocks, ticks = follow(times, period)
	}
	half := middle(blocks)
	if half > maxHalf {
		return nil, nil, fmt.Errorf("%w: the middle half of them spreads over %.1f %% of the period", ErrUnsteady, 200*half)
	}
	return lay(blocks, times, ticks, period, half, period/4)
}

// middle is the median of the blocks' half widths, ticks.
func middle(blocks []block) float64 {
	halves := make([]float64, len(blocks))
	for i, b := range blocks {
		halves[i] = b.half
	}
	return stats.Median(halves)
}

// lay makes the row of blocks whose ticks are known. Instants within four times
// half (ticks) of it count, and at most within widest seconds.
func lay(blocks []block, times []float64, ticks []int64, period, half, widest float64) (*grid, []int64, error) {
	g := &grid{period: period}
	g.width = min(max(4*half*period, 20e-6), widest)
	kept := centroids(blocks, times, ticks, period, g.width)
	on := 0
	var sum float64
	for _, b := range kept {
		on += b.count
		for i := b.from; i < b.to; i++ {
			if r := b.residual(times[i], ticks[i], period); math.Abs(r) <= g.width {
				sum += r * r
			}
		}
	}
	if on == 0 || 5*on < 3*covered(blocks) {
		return nil, nil, fmt.Errorf("%w: only %d of %d are on it", ErrUnsteady, on, len(times))
	}
	g.sigma = math.Sqrt(sum / float64(on))
	if err := g.pauses(times, ticks); err != nil {
		return nil, nil, err
	}
	if err := g.breaks(kept, times, ticks); err != nil {
		return nil, nil, err
	}
	g.smooth(kept, times, ticks)
	for i := 1; i < len(g.knots); i++ {
		if !(g.knots[i].n > g.knots[i-1].n && g.knots[i].t > g.knots[i-1].t) {
			g.knots = nil
		}
	}
	if len(g.knots) < 2 {
		return nil, nil, fmt.Errorf("%w: no line through them", ErrUnsteady)
	}
	for i, t := range times {
		ticks[i] = int64(math.Round(g.tick(t)))
		if i > 0 && ticks[i]-ticks[i-1] > maxGap {
			return nil, nil, fmt.Errorf("%w: nothing for %.0f s, too long to count through", ErrBroken, t-times[i-1])
		}
	}
	return g, ticks, nil
}

func covered(blocks []block) (n int) {
	for _, b := range blocks {
		n += b.to - b.from
	}
	return n
}

func (b *block) residual(t float64, tick int64, period float64) float64 {
	return t - b.t - (float64(tick)-b.n)*period
}

// multiscale finds the period by medians of differences over growing lags.
func multiscale(times []float64, start float64) (float64, bool) {
	n := len(times)
	period := start
	for lag := 1; lag <= 512 && 2*lag <= n; lag *= 2 {
		stride := max(1, (n-lag)/4096)
		var rates []float64
		for i := 0; i+lag < n; i += stride {
			d := times[i+lag] - times[i]
			m := math.Round(d / period)
			if m >= 1 && (lag > 1 || m <= 8) {
				rates = append(rates, d/m)
			}
		}
		if len(rates) == 0 {
			continue
		}
		period = stats.Median(rates)
	}
	return period, period > 0 && !math.IsInf(period, 0)
}

// follow cuts the times into blocks and finds the phase of each, predicted
// from the one before.
func follow(times []float64, period float64) ([]block, []int64) {
	ticks := make([]int64, len(times))
	var blocks []block
	origin, base := times[0], int64(0)
	phases := make([]float64, 0, 2*blockSize)
	for from := 0; from < len(times); {
		to := from + 1
		for to < len(times) && times[to]-times[to-1] < restGap*period {
			to++
		}
		parts := max(1, (to-from+blockSize/2)/blockSize)
		for p := range parts {
			b := block{from: from + (to-from)*p/parts, to: from + (to-from)*(p+1)/parts}
			if b.to-b.from < minBlock {
				for i := b.from; i < b.to; i++ {
					ticks[i] = base + int64(math.Round((times[i]-origin)/period))
				}
				continue
			}
			phases = phases[:0]
			for i := b.from; i < b.to; i++ {
				x := (times[i] - origin) / period
				phases = append(phases, x-math.Floor(x))
			}
			b.step, b.half = shortestHalf(phases)
			var sum float64
			for range 2 {
				sum = 0
				count := 0
				for i := b.from; i < b.to; i++ {
					x := (times[i]-origin)/period - b.step
					if r := x - math.Round(x); math.Abs(r) <= min(max(4*b.half, 1e-3), 0.25) {
						sum += r
						count++
					}
				}
				if count > 0 {
					b.step += sum / float64(count)
				}
			}
			b.step -= math.Round(b.step)
			for i := b.from; i < b.to; i++ {
				ticks[i] = base + int64(math.Round((times[i]-origin)/period-b.step))
			}
			// The next block is predicted from the middle of this one.
			mid := (b.from + b.to) / 2
			k := math.Round((times[mid]-origin)/period - b.step)
			origin += (k + b.step) * period
			base += int64(k)
			blocks = append(blocks, b)
		}
		from = to
	}
	return blocks, ticks
}

// shortestHalf is the middle and half width of the shortest arc that holds
// more than half of the phases, which are in 0..1 on a circle; it reorders
// them.
func shortestHalf(phases []float64) (mid, half float64) {
	slices.Sort(phases)
	n := len(phases)
	h := n/2 + 1
	best := math.Inf(1)
	for i := range phases {
		j := i + h - 1
		end := phases[j%n]
		if j >= n {
			end++
		}
		if w := end - phases[i]; w < best {
			best, mid = w, phases[i]+w/2
		}
	}
	return mid, best / 2
}

// centroids finds the mean tick and time of the instants on the row in each
// block and gives the blocks that have enough of them. Period and width are
// seconds.
func centroids(blocks []block, times []float64, ticks []int64, period, width float64) []block {
	var kept []block
	ref := make([]float64, 0, 2*blockSize)
	for i := range blocks {
		b := &blocks[i]
		ref = ref[:0]
		for j := b.from; j < b.to; j++ {
			ref = append(ref, times[j]-times[b.from]-float64(ticks[j]-ticks[b.from])*period)
		}
		centre := stats.Median(slices.Clone(ref))
		var n, t float64
		b.count = 0
		for j := b.from; j < b.to; j++ {
			if math.Abs(ref[j-b.from]-centre) <= width {
				n += float64(ticks[j] - ticks[b.from])
				t += times[j] - times[b.from]
				b.count++
			}
		}
		if b.count < minBlock/2 {
			continue
		}
		b.n = float64(ticks[b.from]) + n/float64(b.count)
		b.t = times[b.from] + t/float64(b.count)
		kept = append(kept, *b)
	}
	return kept
}

// knotPeriod is the period by all blocks together: robustly through their
// centroids, or for a short row by least squares through its instants.
func knotPeriod(kept []block, times []float64, ticks []int64, period, width float64) (float64, bool) {
	var x, y []float64
	if len(kept) >= 4 {
		stride := (len(kept) + 199) / 200
		for i := 0; i < len(kept); i += stride {
			x, y = append(x, kept[i].n), append(y, kept[i].t)
		}
		slope, _, err := stats.TheilSen(x, y)
		return slope, err == nil
	}
	for _, b := range kept {
		for j := b.from; j < b.to; j++ {
			if math.Abs(b.residual(times[j], ticks[j], period)) <= width {
				x, y = append(x, float64(ticks[j])), append(y, times[j])
			}
		}
	}
	slope, _, err := stats.LeastSquares(x, y)
	return slope, err == nil
}

// breaks looks for steps between blocks that neither scatter nor wander
// explains. Small ones are kept as slack; large ones, and any across a pause,
// break the row.
func (g *grid) breaks(kept []block, times []float64, ticks []int64) error {
	var moved, low, high float64
	for i := 1; i < len(kept); i++ {
		a, b := kept[i-1], kept[i]
		dn := b.n - a.n
		step := b.t - a.t - dn*g.period
		limit := 100e-6 + 8*g.sigma*math.Sqrt(1/float64(a.count)+1/float64(b.count)) + wanderStep*g.period*dn
		if math.Abs(step) <= limit {
			continue
		}
		var pause, at float64
		for j := (a.from+a.to)/2 + 1; j <= (b.from+b.to)/2; j++ {
			if d := (times[j] - times[j-1]) / g.period; d > pause {
				pause, at = d, times[j]
			}
		}
		if pause >= breakGap {
			return fmt.Errorf("%w: after a pause of %.2f s, %.1f s from the start, it goes on %.2f ms off the grid (a reset, or another moment of reading)",
				ErrBroken, pause*g.period, at, 1e3*step)
		}
		if math.Abs(step) > g.period/8 {
			return fmt.Errorf("%w: %.1f s from the start it moves by %.2f ms", ErrBroken, b.t, 1e3*step)
		}
		moved += step
		low, high = min(low, moved), max(high, moved)
	}
	g.slack = high - low
	return nil
}

// smooth chooses the knots. Candidates are the fine knots averaged by 1, 2,
// 4... and, for a short row, one straight line. The bound of a candidate's
// error is sigmas standard errors of its knots plus how far the row is seen to
// bend away from it; the candidate with the smallest bound is taken.
func (g *grid) smooth(kept []block, times []float64, ticks []int64) {
	levels := [][]block{kept}
	for l := kept; len(l) >= 8; {
		l = merge(l)
		levels = append(levels, l)
	}
	g.fit = math.Inf(1)
	if len(kept) < 8 {
		g.line(kept, times, ticks)
		g.fit += bend(g, levels, g.sigma)
	}
	for l, level := range levels {
		if len(level) < 4 {
			break
		}
		c := grid{period: g.period}
		counts := level[0].count
		for _, b := range level {
			c.knots = append(c.knots, knot{b.n, b.t})
			counts = min(counts, b.count)
		}
		var curve float64
		for i := 1; i+1 < len(c.knots); i++ {
			a, b := c.knots[i-1], c.knots[i+1]
			between := a.t + (c.knots[i].n-a.n)*(b.t-a.t)/(b.n-a.n)
			curve = max(curve, math.Abs(c.knots[i].t-between)/2)
		}
		fit := sigmas*g.sigma/math.Sqrt(float64(counts)) + max(curve, bend(&c, levels[:l], g.sigma))
		if fit < g.fit {
			g.fit, g.waist, g.knots = fit, 0, c.knots
			g.lead = max(1, (c.knots[1].n-c.knots[0].n)/2)
		}
	}
}

// line makes the row one straight line through its instants.
func (g *grid) line(kept []block, times []float64, ticks []int64) {
	var x, y []float64
	for _, b := range kept {
		for j := b.from; j < b.to; j++ {
			if math.Abs(b.residual(times[j], ticks[j], g.period)) <= g.width {
				x, y = append(x, float64(ticks[j])), append(y, times[j])
			}
		}
	}
	slope, intercept, err := stats.LeastSquares(x, y)
	if err != nil {
		return
	}
	first, last := x[0], x[len(x)-1]
	g.knots = []knot{{first, intercept + slope*first}, {last, intercept + slope*last}}
	g.lead = max(1, (last-first)/2)
	// The standard error of a line of evenly spread points is twice that of
	// their mean at either end, and that of their mean in the middle; between them
	// it bends downwards.
	g.fit = 2 * sigmas * g.sigma / math.Sqrt(float64(len(x)))
	g.waist = g.fit / 2
}

// merge averages neighbouring blocks by two; an odd last one joins the pair
// before it.
func merge(l []block) []block {
	var m []block
	for i := 0; i+1 < len(l); i += 2 {
		m = append(m, join(l[i], l[i+1]))
	}
	if len(l)%2 == 1 {
		m[len(m)-1] = join(m[len(m)-1], l[len(l)-1])
	}
	return m
}

func join(a, b block) block {
	ca, cb := float64(a.count), float64(b.count)
	return block{
		from: a.from, to: b.to, count: a.count + b.count,
		n: a.n + (b.n-a.n)*cb/(ca+cb),
		t: a.t + (b.t-a.t)*cb/(ca+cb),
	}
}

// bend is how far averages at the finer levels lie from the row beyond what
// their scatter explains.
func bend(g *grid, finer [][]block, sigma float64) (worst float64) {
	for _, level := range finer {
		for _, b := range level {
			se := sigma / math.Sqrt(float64(b.count))
			worst = max(worst, math.Abs(b.t-g.at(b.n))-2.5*se)
		}
	}
	return worst
}
