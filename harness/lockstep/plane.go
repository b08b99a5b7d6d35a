package lockstep

// plane is the straight line from one run's means to the other's on one plane,
// b = gain*a + offset, fitted to the frames so far with forgetting. The sums
// are taken over a part of the blocks.
type plane struct {
	gain, offset float64
	sums         sums
}

// fixedBits is how many binary digits a line has behind the point when it is
// applied in whole numbers.
const fixedBits = 14

// line is a plane in whole numbers: (gain*a + offset) >> fixedBits is the mean
// foretold, rounded to a Unit.
type line struct{ gain, offset int32 }

func (p *plane) line(shift float64) line {
	const one = 1 << fixedBits
	return line{int32(p.gain*one + 0.5), int32((p.offset+shift)*one) + one/2}
}

// residual is b less what a foretells. A picture cannot be darker than 0 or
// brighter than 255 levels, so neither can the foretold one.
func (l line) residual(a, b uint16) int32 {
	return int32(b) - max(0, min(maxFeature, (l.gain*int32(a)+l.offset)>>fixedBits))
}

// planeShape says where a plane's features lie in a block: the first, and how
// many.
func planeShape(p int) (first, per int) {
	switch p {
	case 0:
		return 0, 4
	case 1:
		return 4, 1
	}
	return 5, 1
}

// start fits the line to the first frames of both runs with nothing known: a
// median offset, then least squares over points ever closer to the line.
func (p *plane) start(pairs [][2]Features, first, per int, h *histogram) {
	h.reset()
	for _, f := range pairs {
		for i := first; i < len(f[0]); i += perBlock {
			for k := i; k < i+per; k++ {
				h.add(int32(f[1][k]) - int32(f[0][k]))
			}
		}
	}
	*p = plane{gain: 1, offset: h.median()}
	for _, limit := range []float64{64 / Unit, 24 / Unit, 12 / Unit} {
		p.sums = sums{}
		for _, f := range pairs {
			p.sums.add(p.points(f[0], f[1], first, per, 1, 0, limit))
		}
		p.solve()
		if p.gain < 1/maxGain || p.gain > maxGain {
			*p = plane{gain: 1, offset: h.median()}
			return
		}
	}
}

// learn takes a frame's points that lie within limit of the line, moved by what
// the frame strays from it, into the fit. The slope is that of the last frames,
// the offset that of this one where it has points enough: brightness drifts
// faster than contrast.
func (p *plane) learn(a, b Features, first, per, sample int, stray, limit float64) {
	now := p.points(a, b, first, per, sample, stray, limit+fitSlack)
	p.sums.scale(memory)
	p.sums.add(now)
	p.solve()
	if now.n >= sampleBlocks/4 {
		p.offset = (now.y - p.gain*now.x) / now.n
	}
}

// points gathers a frame's points within limit of the line moved by stray, from every
// sample-th block. Products of two features fit 20 bits, so that whole numbers
// hold the sums of any raster.
func (p *plane) points(a, b Features, first, per, sample int, stray, limit float64) sums {
	l := p.line(stray)
	lim := int32(limit)
	var n, sx, sy, sxx, sxy int64
	for i := first; i < len(a); i += perBlock * sample {
		for k := i; k < i+per; k++ {
			x, y := int64(a[k]), int64(b[k])
			// Points at the ends of the range are cut off and tell no slope.
			if x < cutOff || x > maxFeature-cutOff || y < cutOff || y > maxFeature-cutOff {
				continue
			}
			if d := l.residual(a[k], b[k]); d > lim || d < -lim {
				continue
			}
			n++
			sx += x
			sy += y
			sxx += x * x
			sxy += x * y
		}
	}
	return sums{float64(n), float64(sx), float64(sy), float64(sxx), float64(sxy)}
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
