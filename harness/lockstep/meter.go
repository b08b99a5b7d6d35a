package lockstep

import (
	"cmp"
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
	// offsetSlack is how far the brightness of a whole frame may lie from that of
	// the frame before without counting.
	offsetSlack = 8 / Unit
	// fitSlack is how far beyond the noise a point may lie and still tell gain
	// and offset.
	fitSlack = 2 / Unit
	// memory is what weight a frame keeps in the gain and offset when the next
	// frame comes: about five frames count.
	memory = 0.8
	// gainPrior holds the gain where it was when the pictures have no
	// contrast: it weighs as much as points spread by this standard deviation.
	gainPrior   = 4 / Unit
	stillFrames = 64 // frames over which the still noise is taken
	// classMin is how many features a class needs for its noise to be noted,
	// knownFrames for how many frames it is kept, and trust and little how far beyond the
	// noise known of its class a frame's own noise is believed.
	classMin    = 16
	knownFrames = 64
	trust       = 2
	little      = 1.25
	// cutMove is how much more than before the pictures must move to be
	// another scene.
	cutMove = 3 / Unit
	// sampleBlocks is how many blocks, at least, are asked for medians and
	// lines; stillBlocks for the noise from picture to picture.
	sampleBlocks = 256
	stillBlocks  = 128
	// startFrames is how many frames of the runs are looked at to begin with,
	// for the gain and offset and for the still noise.
	startFrames = 16
	// maxGain bounds the first guess of the gain, either way.
	maxGain = 1.5
	// cutOff is how near the ends of the range a mean is taken for cut off.
	cutOff = 2 / Unit
)

// noises is a noise for every class of blocks: luma, chroma.
type noises [classes][2]float64

// meter measures how far the pictures of two runs differ, frame by frame, and
// learns from the frames that do not: gain and offset between the runs, and
// the size of the noise.
type meter struct {
	layout       Layout
	strong, weak limits
	planes       [3]plane         // luma, Cb, Cr
	known        [classes][2]ring // accepted noise of each class: luma, chroma
	top          noises           // greatest of known
	steady       steady           // the noise of whole pictures
	still        [2]ring          // noise from picture to picture, both runs: luma, chroma
	before       [2]Features
	moves        ring // how much the pictures move, the less of both runs
	sorter       sorter
	hist         [classes][2]tally
	first        histogram
	sum          []blockSum
	unit         []float32  // per block: squares of luma in multiples of the noise
	groups       []float32  // per block: the greatest sum of unit over two by two blocks that it is much of
	stray        [3]float64 // how far the offset of the pictures measured last is from the lines
	equal        bool       // the pictures measured last are bit-equal
	calm         bool       // the noise known is all that is believed
	sample, few  int        // every so many blocks are enough for medians, for the still noise
	scales       [2]sampler
	gains        sampler
	offsets      sampler
}

// blockSum is what the residuals of a block come to: the greatest absolute one
// and the sum of squares, luma and chroma.
type blockSum struct{ one, four, chroma, two int32 }

func newMeter(l Layout) *meter {
	m := &meter{
		layout: l,
		strong: limitsFor(FalseAlarm, l.Blocks()),
		weak:   limitsFor(weakAlarm, nearBlocks),
		sorter: newSorter(l),
		sum:    make([]blockSum, l.Blocks()),
		unit:   make([]float32, l.Blocks()+1),
		groups: make([]float32, l.Blocks()+1),
		sample: max(1, l.Blocks()/sampleBlocks),
		few:    max(1, l.Blocks()/stillBlocks),
	}
	m.planes = same
	m.first.reset()
	return m
}

// same are the lines of a run to itself.
var same = [3]plane{{gain: 1}, {gain: 1}, {gain: 1}}

// start learns gain and offset from the first frames that both runs saw.
func (m *meter) start(pairs [][2]Features) {
	m.line(pairs)
	for _, f := range pairs {
		m.stillNoise(0, f[0])
		m.stillNoise(1, f[1])
	}
	m.before = [2]Features{}
	m.moves = ring{}
}

// line learns gain and offset from pairs of pictures alone.
func (m *meter) line(pairs [][2]Features) {
	for p := range m.planes {
		first, per := planeShape(p)
		m.planes[p].start(pairs, first, per, &m.first)
	}
}

// look compares the pictures of one frame and learns from it.
func (m *meter) look(f console.Frame, a, b Features, r *reading) {
	m.noteCut(min(m.stillNoise(0, a), m.stillNoise(1, b)))
	own, scale := m.measure(a, b, &m.planes, r)
	r.frame = f
	// Bit-equal pictures tell nothing of the noise: two encoders given the same
	// pictures make the same errors, until one is given another.
	if !r.differs() && !m.equal {
		m.learn(a, b, own, scale)
	}
}

// hold is measure for pictures that need not be of the same frame: what differs
// all over is no noise then.
func (m *meter) hold(a, b Features, planes *[3]plane, r *reading) {
	m.calm = true
	m.measure(a, b, planes, r)
	m.calm = false
}

// far says for certain that two pictures differ: a block does, by more than any
// noise that could be believed. Not far says nothing.
func (m *meter) far(a, b Features, planes *[3]plane) bool {
	noise := codecScale
	for c := range m.top {
		noise = max(noise, trust*m.top[c][0])
	}
	l := planes[0].line(0)
	limit := int32(noise*tailFactor(noise)/m.strong.one) + middleReach
	for i := 0; i < len(a); i += perBlock {
		x, y := (*[4]uint16)(a[i:]), (*[4]uint16)(b[i:])
		d0, d1, d2, d3 := l.residual(x[0], y[0]), l.residual(x[1], y[1]), l.residual(x[2], y[2]), l.residual(x[3], y[3])
		if max(d0, d1, d2, d3) > limit || min(d0, d1, d2, d3) < -limit {
			return true
		}
	}
	return false
}

// measure compares two pictures by the noise known so far and learns nothing.
func (m *meter) measure(a, b Features, planes *[3]plane, r *reading) (own, scale noises) {
	r.score, r.whole = 0, 0
	r.over, r.faint, r.level = r.over[:0], r.faint[:0], r.level[:0]
	if m.equal = *planes == same && slices.Equal(a, b); m.equal {
		clear(m.sum)
		return own, scale
	}
	m.sorter.sort(a, b)
	m.residuals(a, b, planes)
	own, scale = m.scale()
	r.whole = m.steady.test(own, m)
	r.score = r.whole
	var cuts [classes]cut
	for c := range cuts {
		cuts[c] = m.cut(scale[c])
	}
	m.group(scale)
	for i := range m.sum {
		s := &m.sum[i]
		k := &cuts[m.sorter.class[i]]
		if s.one <= k.one && s.four <= k.four && s.chroma <= k.chroma && s.two <= k.two && m.groups[i] <= m.strong.square {
			continue
		}
		r.faint = append(r.faint, i)
		c := m.sorter.class[i]
		l, ch := 1/scale[c][0], 1/scale[c][1]
		score := max(
			math.Sqrt(float64(m.groups[i]))*m.strong.group,
			max(float64(s.one)*l*m.strong.one, math.Sqrt(float64(s.four))*l*m.strong.four)/tailFactor(scale[c][0]),
			max(float64(s.chroma)*ch*m.strong.one, math.Sqrt(float64(s.two))*ch*m.strong.two)/tailFactor(scale[c][1]))
		r.level = append(r.level, float32(score))
		if score > 1 {
			r.over = append(r.over, i)
		}
		r.score = max(r.score, score)
	}
	return own, scale
}

// cut is the weaker threshold of a class in whole numbers: the greatest values
// that are not beyond it.
type cut struct{ one, four, chroma, two int32 }

func (m *meter) cut(scale [2]float64) cut {
	whole := func(x float64) int32 { return int32(min(x, math.MaxInt32)) }
	sq := func(x float64) int32 { return whole(x * x) }
	scale[0] *= tailFactor(scale[0])
	scale[1] *= tailFactor(scale[1])
	return cut{
		whole(scale[0] / m.weak.one), sq(scale[0] / m.weak.four),
		whole(scale[1] / m.weak.one), sq(scale[1] / m.weak.two),
	}
}

// residuals takes b less what a foretells by the lines, and for this frame a
// little more offset, into the sums of the blocks and the histograms of the
// classes.
func (m *meter) residuals(a, b Features, planes *[3]plane) {
	var lines [3]line
	for p := range planes {
		first, per := planeShape(p)
		l := planes[p].line(0)
		var mid middling
		for i := first; i < len(a); i += perBlock * m.sample {
			for k := i; k < i+per; k++ {
				mid.add(l.residual(a[k], b[k]))
			}
		}
		m.stray[p] = mid.median()
		lines[p] = planes[p].line(m.stray[p])
	}
	for c := range m.hist {
		m.hist[c][0].reset()
		m.hist[c][1].reset()
	}
	y, cb, cr := lines[0], lines[1], lines[2]
	var n, most, mostC [classes]int32
	for i := range m.sum {
		fa, fb := (*[perBlock]uint16)(a[i*perBlock:]), (*[perBlock]uint16)(b[i*perBlock:])
		c := m.sorter.class[i]
		h := &m.hist[c]
		v0, v1 := y.residual(fa[0], fb[0]), y.residual(fa[1], fb[1])
		v2, v3 := y.residual(fa[2], fb[2]), y.residual(fa[3], fb[3])
		v, w := cb.residual(fa[4], fb[4]), cr.residual(fa[5], fb[5])
		v0, v1, v2, v3, v, w = size(v0), size(v1), size(v2), size(v3), size(v), size(w)
		h[0].count(v0)
		h[0].count(v1)
		h[0].count(v2)
		h[0].count(v3)
		h[1].count(v)
		h[1].count(w)
		s := blockSum{upper(upper(v0, v1), upper(v2, v3)), v0*v0 + v1*v1 + v2*v2 + v3*v3, upper(v, w), v*v + w*w}
		m.sum[i] = s
		n[c]++
		most[c], mostC[c] = max(most[c], s.one), max(mostC[c], s.chroma)
	}
	for c := range m.hist {
		m.hist[c][0].seal(4*n[c], most[c])
		m.hist[c][1].seal(2*n[c], mostC[c])
	}
}

// scale is the noise to hold against the residuals of each class: own is this
// frame's own, believed is no more than can be believed.
func (m *meter) scale() (own, believed noises) {
	var rise [2]float64
	for p := range 2 {
		most, still := 0.0, -1.0
		for c := range m.top {
			most = max(most, m.top[c][p])
			own[c][p] = m.hist[c][p].spread()
		}
		if rise[p] = little; !m.calm {
			rise[p] = m.rise(own, p)
		}
		for c := range own {
			limit := rise[p] * m.top[c][p]
			if limit == 0 {
				if most == 0 && still < 0 {
					still = m.still[p].middle()
				}
				limit = max(codecScale, 2*still)
				if most > 0 {
					limit = max(codecScale, rise[p]*most)
				}
			}
			believed[c][p] = max(floorScale, min(own[c][p], limit))
		}
	}
	return own, believed
}

// rise is by how much the noise of a frame may exceed what is known of each
// class. Noise rises everywhere, a difference of the pictures in some classes of
// blocks more than in others: so it is a little more than the median, by the
// number of features, of the rises of the classes; at least little and at most
// trust.
func (m *meter) rise(own noises, p int) float64 {
	type part struct {
		x float64
		n int32
	}
	var parts [classes]part
	k, n := 0, int32(0)
	for c := range own {
		if m.top[c][p] > 0 && m.hist[c][p].n > 0 {
			parts[k] = part{max(floorScale, own[c][p]) / m.top[c][p], m.hist[c][p].n}
			n += parts[k].n
			k++
		}
	}
	slices.SortFunc(parts[:k], func(a, b part) int { return cmp.Compare(a.x, b.x) })
	sum := int32(0)
	for _, q := range parts[:k] {
		if sum += q.n; 2*sum >= n {
			return max(little, min(trust, little*q.x))
		}
	}
	return trust
}

// learn takes a frame without a difference into gain, offset and noise.
func (m *meter) learn(a, b Features, own, scale noises) {
	m.steady.learn(own, m)
	var worst [2]float64
	for c := range own {
		for p := range own[c] {
			if m.hist[c][p].n >= classMin {
				k := &m.known[c][p]
				k.put(max(floorScale, scale[c][p]), knownFrames)
				m.top[c][p] = k.top()
				worst[p] = max(worst[p], scale[c][p])
			}
		}
	}
	for p := range worst {
		m.scales[p].put(worst[p])
	}
	for p := range m.planes {
		first, per := planeShape(p)
		m.planes[p].learn(a, b, first, per, m.sample, m.stray[p], 2.5*worst[min(p, 1)])
	}
	m.gains.put(m.planes[0].gain)
	m.offsets.put(m.planes[0].offset)
}

// noise is what was found, in levels.
func (m *meter) noise() Noise {
	return Noise{
		Luma:   m.scales[0].median() * Unit,
		Chroma: m.scales[1].median() * Unit,
		Gain:   m.gains.median(),
		Offset: m.offsets.median() * Unit,
	}
}
