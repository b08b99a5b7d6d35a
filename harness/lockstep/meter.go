package lockstep

import (
	"image"
	"math"
	"slices"

	"latchproof/specs/console"
)

// All in Units unless said otherwise.
const (
	// floorScale is the least noise that is believed: a few steps of a coarse
	// block codec in a block that is otherwise still must not count. JPEG of
	// quality 50 (ITU-T T.81, tables K.1) has a step of 2 levels in all four
	// means (16/8) and steps of about 1.3 in them for its lowest waves.
	floorScale = 0.75 / Unit
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
	gainPrior   = 4 / Unit
	stillFrames = 64 // frames over which the still noise is taken
	// classes is how many classes of blocks there are: dark and smooth, then
	// ever rougher; the limits between are 4, 12 and 30 levels.
	classes   = 5
	darkLevel = 16 / Unit
	// classMin is how many features a class needs for its noise to be noted,
	// knownFrames for how many frames it is kept, and trust how far beyond the
	// noise known of its class a frame's own noise is believed.
	classMin    = 48
	knownFrames = 64
	trust       = 2
	// wholeRatio is by how much the noise of a whole picture may exceed what is
	// known from at least wholeFrames frames, wholeWeak the part of it that
	// confirms, and wholeFloor the least noise it is held against.
	wholeRatio  = 1.3
	wholeWeak   = 0.9
	wholeFloor  = 1 / Unit
	wholeFrames = 4
	// cutMove is how much more than before the pictures must move to be
	// another scene.
	cutMove      = 3 / Unit
	sampleBlocks = 256 // at least so many blocks are asked for medians
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
	planes       [3]plane         // luma, Cb, Cr
	known        [classes][2]ring // accepted noise of each class: luma, chroma
	still        [2]ring          // noise from picture to picture, both runs: luma, chroma
	before       [2]Features
	resid        []float32
	sample       int  // every so many blocks are enough for medians
	moves        ring // how much the pictures move, the less of both runs
	rough        [2][]float32
	class        []uint8 // per block
	hist         [classes][2]histogram
	scales       [2][]float64 // accepted scales, for the report
	gains        []float64
	offsets      []float64
}

// reading is what the meter says of one frame.
type reading struct {
	frame  console.Frame
	score  float64   // worst block in multiples of the threshold; above 1 differs
	whole  float64   // noise of the whole picture in multiples of its threshold
	blocks []float32 // per block, multiples of the threshold
	weak   []float32 // the same for the threshold of the look back
}

func (r *reading) differs() bool { return r.score > 1 }

func newMeter(l Layout) *meter {
	m := &meter{
		layout: l,
		strong: limitsFor(FalseAlarm, l.Blocks()),
		weak:   limitsFor(weakAlarm, nearBlocks),
		resid:  make([]float32, l.Len()),
		sample: max(1, l.Blocks()/sampleBlocks),
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
		m.planes[p].start(pairs, first, step, per, &m.hist[0][0])
	}
	for _, f := range pairs {
		m.stillNoise(0, f[0])
		m.stillNoise(1, f[1])
	}
	m.before = [2]Features{}
	m.moves = ring{}
}

// look compares the pictures of one frame.
func (m *meter) look(f console.Frame, a, b Features, r *reading) {
	moved := min(m.stillNoise(0, a), m.stillNoise(1, b))

	// Gain and offset from the frames before, and for this frame a little more
	// offset; then the residuals.
	for p := range m.planes {
		pl := &m.planes[p]
		first, step, per := planeShape(p)
		pl.residuals(a, b, m.resid, first, step, per, 0)
		h := &m.hist[0][0]
		h.reset()
		for i := first; i < len(a); i += step * m.sample {
			for k := i; k < i+per; k++ {
				h.add(m.resid[k])
			}
		}
		shift := max(-offsetSlack, min(offsetSlack, h.quantile(0.5)))
		pl.residuals(a, b, m.resid, first, step, per, shift)
	}
	m.noteCut(moved)
	m.classify(a, b)
	own, scale := m.scale()

	if len(r.blocks) != m.layout.Blocks() {
		r.blocks = make([]float32, m.layout.Blocks())
		r.weak = make([]float32, m.layout.Blocks())
	}
	r.frame, r.score = f, 0
	r.whole = m.whole(own)
	var tail [classes][2]float64
	for c := range tail {
		tail[c] = [2]float64{1 / tailFactor(scale[c][0]), 1 / tailFactor(scale[c][1])}
	}
	for i := range r.blocks {
		c := m.class[i]
		invL, invC := 1/scale[c][0], 1/scale[c][1]
		z := m.resid[i*perBlock : i*perBlock+perBlock : i*perBlock+perBlock]
		var one, four, chroma, two float64
		for _, v := range z[:4] {
			x := math.Abs(float64(v)) * invL
			one = max(one, x)
			four += x * x
		}
		for _, v := range z[4:] {
			x := math.Abs(float64(v)) * invC
			chroma = max(chroma, x)
			two += x * x
		}
		four, two = math.Sqrt(four), math.Sqrt(two)
		s := max(max(one*m.strong.one, four*m.strong.four)*tail[c][0], max(chroma*m.strong.one, two*m.strong.two)*tail[c][1])
		r.blocks[i] = float32(s)
		r.weak[i] = float32(max(max(one, chroma)*m.weak.one, four*m.weak.four, two*m.weak.two))
		r.score = max(r.score, s)
	}
	r.score = max(r.score, r.whole)
	if !r.differs() {
		m.learn(a, b, own, scale)
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

// classify sorts the blocks by how rough the picture is around them: the codec
// errs more where there is more to draw, and noise is cut off where it is dark.
// A block counts as the smoother of what the two runs show, so that what one
// run alone shows does not excuse itself.
func (m *meter) classify(a, b Features) {
	n := m.layout.Blocks()
	if len(m.class) != n {
		m.class = make([]uint8, n)
		m.rough[0], m.rough[1] = make([]float32, n), make([]float32, n)
	}
	for k, f := range []Features{a, b} {
		for i := range n {
			v := f[i*perBlock : i*perBlock+4 : i*perBlock+4]
			m.rough[k][i] = float32(max(v[0], v[1], v[2], v[3]) - min(v[0], v[1], v[2], v[3]))
		}
	}
	cols := m.layout.Cols()
	for i := range n {
		x := i % cols
		var around [2]float32
		for k := range around {
			v := m.rough[k]
			w := v[i]
			if x > 0 {
				w = max(w, v[i-1])
			}
			if x < cols-1 {
				w = max(w, v[i+1])
			}
			if i >= cols {
				w = max(w, v[i-cols])
			}
			if i+cols < n {
				w = max(w, v[i+cols])
			}
			around[k] = w
		}
		c := uint8(1)
		switch w := min(around[0], around[1]); {
		case w >= 30/Unit:
			c = 4
		case w >= 12/Unit:
			c = 3
		case w >= 4/Unit:
			c = 2
		default:
			j := i * perBlock
			if a[j]+a[j+1]+a[j+2]+a[j+3] < 4*darkLevel {
				c = 0
			}
		}
		m.class[i] = c
	}
}

// scale is the noise to hold against the residuals of each class: own is this
// frame's own, believed is no more than can be believed.
func (m *meter) scale() (own, believed [classes][2]float64) {
	for c := range m.hist {
		m.hist[c][0].reset()
		m.hist[c][1].reset()
	}
	for i, c := range m.class {
		z := m.resid[i*perBlock : i*perBlock+perBlock : i*perBlock+perBlock]
		h := &m.hist[c]
		for _, v := range z[:4] {
			h[0].addAbs(v)
		}
		h[1].addAbs(z[4])
		h[1].addAbs(z[5])
	}
	for p := range 2 {
		still := m.still[p].middle()
		most := 0.0
		for c := range m.known {
			most = max(most, m.known[c][p].top())
		}
		for c := range own {
			own[c][p] = m.hist[c][p].spread()
			limit := max(codecScale, 2*still, trust*most)
			if top := m.known[c][p].top(); top > 0 {
				limit = trust * top
			}
			believed[c][p] = max(floorScale, min(own[c][p], limit))
		}
	}
	return own, believed
}

// whole is this frame's own luma noise against the most known of the same
// classes of blocks and once more the range of what is known, the classes
// weighed by their size, in multiples of wholeRatio. It finds what changes the whole picture a little and no block
// much, such as a background one pixel further. 0 when too little is known.
func (m *meter) whole(own [classes][2]float64) float64 {
	var sum, n float64
	for c := range own {
		known := &m.known[c][0]
		if len(known.v) < wholeFrames {
			continue
		}
		k := float64(m.hist[c][0].n)
		top := known.top()
		x := own[c][0] / max(wholeFloor, top+(top-slices.Min(known.v)))
		sum += k * x * x
		n += k
	}
	if n < 2*float64(m.layout.Blocks()) {
		return 0 // less than half of the luma features
	}
	return math.Sqrt(sum/n) / wholeRatio
}

// noteCut forgets the known noise when both runs change to another scene: what
// is drawn next may be noisier.
func (m *meter) noteCut(moved float64) {
	if len(m.moves.v) > 0 && moved > 2*m.moves.top()+cutMove {
		m.known = [classes][2]ring{}
		m.moves = ring{}
	}
	m.moves.put(moved, knownFrames)
}

// learn takes a frame without a difference into gain, offset and noise.
func (m *meter) learn(a, b Features, own, scale [classes][2]float64) {
	var worst [2]float64
	for c := range own {
		for p := range own[c] {
			if m.hist[c][p].n >= classMin {
				m.known[c][p].put(max(floorScale, scale[c][p]), knownFrames)
				worst[p] = max(worst[p], scale[c][p])
			}
		}
	}
	for p := range worst {
		m.scales[p] = append(m.scales[p], worst[p])
	}
	for p := range m.planes {
		first, step, per := planeShape(p)
		m.planes[p].learn(a, b, first, step, per, 2.5*worst[min(p, 1)])
	}
	m.gains = append(m.gains, m.planes[0].gain)
	m.offsets = append(m.offsets, m.planes[0].offset)
}

// stillNoise notes how much a run's picture differs from the one before in the
// quarter of the features that change least: motion does not reach it unless
// three quarters of the picture move. It gives back how much the luma moved: the
// 75 % quantile.
func (m *meter) stillNoise(run int, f Features) (moved float64) {
	prev := m.before[run]
	if len(prev) == len(f) {
		h := &m.hist[0]
		h[0].reset()
		h[1].reset()
		for i := 0; i < len(f); i += perBlock * m.sample {
			for k := i; k < i+4; k++ {
				h[0].addAbs(float32(int(f[k]) - int(prev[k])))
			}
			h[1].addAbs(float32(int(f[i+4]) - int(prev[i+4])))
			h[1].addAbs(float32(int(f[i+5]) - int(prev[i+5])))
		}
		for c := range m.still {
			// 0.3186 is the standard normal quantile at 5/8: a quarter of |Z|
			// lies below it.
			m.still[c].put(h[c].quantile(0.25)/0.3186393639643752, 2*stillFrames)
		}
		moved = h[0].quantile(0.75)
	}
	m.before[run] = append(prev[:0], f...)
	return moved
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

// region bounds the blocks beyond the threshold, on the raster; the whole of it
// when no block is, but the picture as a whole.
func (r *reading) region(l Layout) image.Rectangle {
	var over []int
	for i, s := range r.blocks {
		if s > 1 {
			over = append(over, i)
		}
	}
	if len(over) == 0 {
		return image.Rect(0, 0, l.W, l.H)
	}
	return bounds(over, l)
}

// bounds is the smallest rectangle around blocks, on the raster.
func bounds(blocks []int, l Layout) (out image.Rectangle) {
	cols := l.Cols()
	for _, i := range blocks {
		x, y := i%cols*8, i/cols*8
		out = out.Union(image.Rect(x, y, min(x+8, l.W), min(y+8, l.H)))
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
