package lockstep

import (
	"image"
	"math"
	"slices"

	"latchproof/specs/console"
)

// All in Units unless said otherwise.
const (
	// floorScale is the least noise that is believed: one step of a coarse
	// block codec in a block that is otherwise still must not count.
	floorScale = 0.6 / Unit
	// codecScale is the noise that a block codec of the worst quality we mean
	// to survive makes by itself; a frame's own noise is believed up to it.
	codecScale = 3 / Unit
	// offsetSlack is how far the brightness of one frame may lie from the
	// frames before without counting.
	offsetSlack = 2 / Unit
	// memory is what weight a frame keeps in the gain and offset when the next
	// frame comes: about five frames count.
	memory = 0.8
	// gainPrior holds the gain where it was when the pictures have no
	// contrast: it weighs as much as points spread by this standard deviation.
	gainPrior = 4 / Unit
	stillSize = 64 // frames over which the still noise is taken
	// startFrames is how many frames of the runs are looked at to begin with,
	// for the gain and offset and for the still noise.
	startFrames = 16
	// maxGain bounds the first guess of the gain, either way.
	maxGain = 1.5
	// cutOff is how near the ends of the range a mean is taken for cut off.
	cutOff = 2 / Unit
)

// meter measures how far the pictures of two runs differ, frame by frame, and
// learns from the frames that do not: gain and offset between the runs, and
// the size of the noise.
type meter struct {
	layout       Layout
	strong, weak limits
	planes       [3]plane // luma, Cb, Cr
	top          [2]float64
	still        [2]ring // noise from picture to picture, both runs: luma, chroma
	before       [2]Features
	resid        []float32
	hist         [2]histogram
	scales       [2][]float64 // accepted scales, for the report
	gains        []float64
	offsets      []float64
}

// reading is what the meter says of one frame.
type reading struct {
	frame  console.Frame
	score  float64   // worst block in multiples of the threshold; above 1 differs
	blocks []float32 // per block, multiples of the threshold
	weak   []float32 // the same for the threshold of the look back
}

func (r *reading) differs() bool { return r.score > 1 }

func newMeter(l Layout) *meter {
	m := &meter{
		layout: l,
		strong: limitsFor(FalseAlarm, l.Blocks()),
		weak:   limitsFor(weakAlarm, l.Blocks()),
		resid:  make([]float32, l.Len()),
	}
	for i := range m.planes {
		m.planes[i].gain = 1
	}
	return m
}

// start learns gain and offset from the first frames that both runs saw.
func (m *meter) start(pairs [][2]Features) {
	for p := range m.planes {
		first, step, per := planeShape(p)
		m.planes[p].start(pairs, first, step, per, &m.hist[0])
	}
	for _, f := range pairs {
		m.stillNoise(0, f[0])
		m.stillNoise(1, f[1])
	}
	m.before = [2]Features{}
}

// look compares the pictures of one frame.
func (m *meter) look(f console.Frame, a, b Features, r *reading) {
	m.stillNoise(0, a)
	m.stillNoise(1, b)

	// Gain and offset from the frames before, and for this frame a little more
	// offset; then the residuals.
	for p := range m.planes {
		pl := &m.planes[p]
		first, step, per := planeShape(p)
		pl.residuals(a, b, m.resid, first, step, per, 0)
		h := &m.hist[0]
		h.reset()
		for i := first; i < len(a); i += step {
			for k := i; k < i+per; k++ {
				h.add(m.resid[k])
			}
		}
		shift := max(-offsetSlack, min(offsetSlack, h.quantile(0.5)))
		pl.residuals(a, b, m.resid, first, step, per, shift)
	}
	scale := m.scale()

	if len(r.blocks) != m.layout.Blocks() {
		r.blocks = make([]float32, m.layout.Blocks())
		r.weak = make([]float32, m.layout.Blocks())
	}
	r.frame, r.score = f, 0
	invL, invC := 1/scale[0], 1/scale[1]
	for i := range r.blocks {
		z := m.resid[i*perBlock : i*perBlock+perBlock : i*perBlock+perBlock]
		var one, four, two float64
		for _, v := range z[:4] {
			x := math.Abs(float64(v)) * invL
			one = max(one, x)
			four += x * x
		}
		for _, v := range z[4:] {
			x := math.Abs(float64(v)) * invC
			one = max(one, x)
			two += x * x
		}
		four, two = math.Sqrt(four), math.Sqrt(two)
		s := max(one*m.strong.one, four*m.strong.four, two*m.strong.two)
		r.blocks[i] = float32(s)
		r.weak[i] = float32(max(one*m.weak.one, four*m.weak.four, two*m.weak.two))
		r.score = max(r.score, s)
	}
	if !r.differs() {
		m.learn(a, b, scale)
	}
}

// planeShape says where a plane's features lie: index of the first, step from
// block to block, features a block.
func planeShape(p int) (first, step, per int) {
	switch p {
	case 0:
		return 0, perBlock, 4
	case 1:
		return 4, perBlock, 1
	}
	return 5, perBlock, 1
}

// scale is the noise to hold against the residuals: this frame's own, but no
// more than can be believed.
func (m *meter) scale() [2]float64 {
	m.hist[0].reset()
	m.hist[1].reset()
	for i := 0; i < len(m.resid); i += perBlock {
		for _, v := range m.resid[i : i+4] {
			m.hist[0].addAbs(v)
		}
		m.hist[1].addAbs(m.resid[i+4])
		m.hist[1].addAbs(m.resid[i+5])
	}
	var out [2]float64
	for c := range out {
		own := m.hist[c].spread()
		most := max(codecScale, 2*m.still[c].median(), 1.5*m.top[c])
		out[c] = max(floorScale, min(own, most))
	}
	return out
}

// learn takes a frame without a difference into gain, offset and noise.
func (m *meter) learn(a, b Features, scale [2]float64) {
	for c, s := range scale {
		m.top[c] = max(m.top[c], s)
		m.scales[c] = append(m.scales[c], s)
	}
	for p := range m.planes {
		first, step, per := planeShape(p)
		m.planes[p].learn(a, b, first, step, per, 2.5*scale[min(p, 1)])
	}
	m.gains = append(m.gains, m.planes[0].gain)
	m.offsets = append(m.offsets, m.planes[0].offset)
}

// stillNoise notes how much a run's picture differs from the one before in the
// quarter of the features that change least: motion does not reach it unless
// three quarters of the picture move.
func (m *meter) stillNoise(run int, f Features) {
	prev := m.before[run]
	if len(prev) == len(f) {
		m.hist[0].reset()
		m.hist[1].reset()
		for i := 0; i < len(f); i += perBlock {
			for k := i; k < i+4; k++ {
				m.hist[0].addAbs(float32(int(f[k]) - int(prev[k])))
			}
			m.hist[1].addAbs(float32(int(f[i+4]) - int(prev[i+4])))
			m.hist[1].addAbs(float32(int(f[i+5]) - int(prev[i+5])))
		}
		for c := range m.still {
			// 0.3186 is the standard normal quantile at 5/8: a quarter of |Z|
			// lies below it.
			m.still[c].put(m.hist[c].quantile(0.25) / 0.3186393639643752)
		}
	}
	m.before[run] = append(prev[:0], f...)
}

// noise is what was found, in levels.
func (m *meter) noise() Noise {
	return Noise{
		Luma:   median(m.scales[0]) * Unit,
		Chroma: median(m.scales[1]) * Unit,
		Gain:   median(m.gains),
		Offset: median(m.offsets) * Unit,
	}
}

func median(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	s := slices.Clone(v)
	slices.Sort(s)
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}

// region bounds the blocks beyond the threshold, on the raster.
func (r *reading) region(l Layout) image.Rectangle {
	var out image.Rectangle
	cols := l.Cols()
	for i, s := range r.blocks {
		if s > 1 {
			x, y := i%cols*8, i/cols*8
			out = out.Union(image.Rect(x, y, min(x+8, l.W), min(y+8, l.H)))
		}
	}
	return out
}

// plane is the straight line from one run's means to the other's on one plane,
// b = gain*a + offset, fitted to the frames so far with forgetting.
type plane struct {
	gain, offset float64
	sums         sums
}

// start fits the line to the first frames of both runs with nothing known: a
// median offset, then least squares over points ever closer to the line.
func (p *plane) start(pairs [][2]Features, first, step, per int, h *histogram) {
	h.reset()
	for _, f := range pairs {
		for i := first; i < len(f[0]); i += step {
			for k := i; k < i+per; k++ {
				h.add(float32(int(f[1][k]) - int(f[0][k])))
			}
		}
	}
	*p = plane{gain: 1, offset: h.quantile(0.5)}
	for _, limit := range []float64{64 / Unit, 24 / Unit, 12 / Unit} {
		p.sums = sums{}
		for _, f := range pairs {
			p.sums.add(p.points(f[0], f[1], first, step, per, limit))
		}
		p.solve()
		if p.gain < 1/maxGain || p.gain > maxGain {
			*p = plane{gain: 1, offset: h.quantile(0.5)}
			return
		}
	}
}

// residuals writes b less what a foretells. A picture cannot be darker than 0
// or brighter than 255 levels, so neither can the foretold one.
func (p *plane) residuals(a, b Features, out []float32, first, step, per int, shift float64) {
	g, o := float32(p.gain), float32(p.offset+shift)
	for i := first; i < len(a); i += step {
		for k := i; k < i+per; k++ {
			out[k] = float32(b[k]) - max(0, min(maxFeature, g*float32(a[k])+o))
		}
	}
}

// learn takes a frame's points that lie within limit of the line into the fit.
func (p *plane) learn(a, b Features, first, step, per int, limit float64) {
	now := p.points(a, b, first, step, per, limit+offsetSlack)
	p.sums.scale(memory)
	p.sums.add(now)
	p.solve()
}

// points gathers a frame's points within limit of the line.
func (p *plane) points(a, b Features, first, step, per int, limit float64) (s sums) {
	g, o, lim := float32(p.gain), float32(p.offset), float32(limit)
	for i := first; i < len(a); i += step {
		for k := i; k < i+per; k++ {
			x, y := float32(a[k]), float32(b[k])
			// Points at the ends of the range are cut off and tell no slope.
			if x < cutOff || x > maxFeature-cutOff || y < cutOff || y > maxFeature-cutOff {
				continue
			}
			if d := y - g*x - o; d > lim || d < -lim {
				continue
			}
			s.n++
			s.x += float64(x)
			s.y += float64(y)
			s.xx += float64(x) * float64(x)
			s.xy += float64(x) * float64(y)
		}
	}
	return s
}

// solve is least squares with the gain held near its last value by the prior.
func (p *plane) solve() {
	s := p.sums
	if s.n < 1 {
		return
	}
	vx := s.xx - s.x*s.x/s.n
	cxy := s.xy - s.x*s.y/s.n
	prior := s.n * gainPrior * gainPrior
	p.gain = (cxy + prior*p.gain) / (vx + prior)
	p.offset = (s.y - p.gain*s.x) / s.n
}

// sums are what a straight-line fit needs of its points.
type sums struct{ n, x, y, xx, xy float64 }

func (s *sums) add(o sums) {
	s.n, s.x, s.y, s.xx, s.xy = s.n+o.n, s.x+o.x, s.y+o.y, s.xx+o.xx, s.xy+o.xy
}

func (s *sums) scale(k float64) {
	s.n, s.x, s.y, s.xx, s.xy = s.n*k, s.x*k, s.y*k, s.xx*k, s.xy*k
}
