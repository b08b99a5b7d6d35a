package checks

import (
	"fmt"
	"image"
	"math"
	"slices"

	"latchproof/harness/lockstep"
	"latchproof/vision/screen"
)

// All that is said of levels here is in levels of an 8-bit picture.
const (
	perBlock   = 6 // features of a block, see lockstep.Features: four of luma, Cb, Cr
	leastNoise = 0.75
	mostNoise  = 10
	gainPull   = 4    // deviation of a picture that is as strong an argument for its gain as for 1
	mostGain   = 1.43 // either way
	mostOffset = 40   // of middle grey, either way
	leastAlike = 0.7  // correlation of the block means below which nothing is alike
	leastShape = 6    // deviation of the block means from which a correlation means something
	groupWider = 1.3  // see lockstep: noise is not the same everywhere
	fewOfClass = 32   // features from which a class has a noise of its own
	classCount = 5
	dark       = 16 // level below which a smooth block is dark
)

// blockTest tells whether a picture is the reference, by the block test of
// package lockstep for one single pair of pictures; doc.go says what differs.
type blockTest struct {
	layout  lockstep.Layout
	ref     lockstep.Features
	rough   []float64 // of the reference
	counts  []bool    // blocks that are not ignored
	blocks  int       // of them
	one     float64   // thresholds in deviations: a feature, luma together,
	four    float64   // chroma together, luma of two by two blocks
	two     float64
	sixteen float64
}

// newBlockTest leaves out the blocks that touch an ignored region.
func newBlockTest(ref *screen.Screen, ignore []image.Rectangle) *blockTest {
	l := lockstep.Layout{W: ref.W, H: ref.H}
	t := &blockTest{layout: l, ref: lockstep.Extract(ref, nil), counts: make([]bool, l.Blocks())}
	for i := range t.counts {
		box := t.box(i)
		t.counts[i] = true
		for _, r := range ignore {
			t.counts[i] = t.counts[i] && !box.Overlaps(r)
		}
		if t.counts[i] {
			t.blocks++
		}
	}
	t.rough = roughness(l, t.ref)
	n := max(t.blocks, 1) * (perBlock + 3)
	t.one = lockstep.NormalThreshold(lockstep.FalseAlarm, n)
	t.four = math.Sqrt(lockstep.ChiSquareThreshold(lockstep.FalseAlarm, n, 4))
	t.two = math.Sqrt(lockstep.ChiSquareThreshold(lockstep.FalseAlarm, n, 2))
	t.sixteen = math.Sqrt(lockstep.ChiSquareThreshold(lockstep.FalseAlarm, n, 16)) * groupWider
	return t
}

// box is the pixels of a block.
func (t *blockTest) box(i int) image.Rectangle {
	x, y := i%t.layout.Cols()*8, i/t.layout.Cols()*8
	return image.Rect(x, y, x+8, y+8).Intersect(image.Rect(0, 0, t.layout.W, t.layout.H))
}

// roughness is the greatest range of the luma means of a block and of the blocks
// beside it.
func roughness(l lockstep.Layout, f lockstep.Features) []float64 {
	cols, rows := l.Cols(), l.Rows()
	own := make([]float64, l.Blocks())
	for i := range own {
		v := f[i*perBlock:][:4]
		own[i] = float64(slices.Max(v)-slices.Min(v)) * lockstep.Unit
	}
	out := make([]float64, len(own))
	for i := range out {
		x, y := i%cols, i/cols
		out[i] = own[i]
		if x > 0 {
			out[i] = max(out[i], own[i-1])
		}
		if x+1 < cols {
			out[i] = max(out[i], own[i+1])
		}
		if y > 0 {
			out[i] = max(out[i], own[i-cols])
		}
		if y+1 < rows {
			out[i] = max(out[i], own[i+cols])
		}
	}
	return out
}

// class sorts a block by how rough it is there: dark and smooth, then ever
// rougher.
func class(rough, level float64) int {
	switch {
	case rough < 4 && level < dark:
		return 0
	case rough < 4:
		return 1
	case rough < 12:
		return 2
	case rough < 30:
		return 3
	}
	return 4
}

// difference is what a block test found.
type difference struct {
	score  float64 // 1 is the threshold
	at     image.Rectangle
	region image.Rectangle // around all blocks that differ
	blocks int             // that differ
	noise  float64         // of the luma means, the greatest of the classes
	why    string          // why the whole picture differs; empty when blocks do
}

// compare holds a picture against the reference.
func (t *blockTest) compare(s *screen.Screen) difference {
	var d difference
	if t.blocks == 0 {
		return d
	}
	f := lockstep.Extract(s, nil)
	rough := roughness(t.layout, f)
	left := make([]float64, len(f)) // what the line leaves over
	other := ""                     // why the picture seems to be another one altogether
	for p := range 3 {
		first, per := [3]int{0, 4, 5}[p], [3]int{4, 1, 1}[p]
		line := t.fit(f, first, per)
		if p == 0 {
			why := line.wrong()
			if other = line.other(); why != "" && other != "" {
				why = other
			}
			if why != "" {
				return t.another(why)
			}
		}
		for i := range t.counts {
			for k := i*perBlock + first; k < i*perBlock+first+per; k++ {
				left[k] = line.left(t.ref[k], f[k])
			}
			if p == 0 && t.counts[i] {
				t.cutOff(s, i, line, left[i*perBlock:][:4])
			}
		}
	}
	classes := make([]int, len(t.counts))
	for i := range classes {
		level := (float64(t.ref[i*perBlock]) + float64(f[i*perBlock])) / 2 * lockstep.Unit
		classes[i] = class(min(t.rough[i], rough[i]), level)
	}
	noise := t.noise(left, classes)
	for _, n := range noise {
		d.noise = max(d.noise, n[0])
	}
	t.judge(left, classes, noise, &d)
	if other != "" && (d.blocks == 0 || 2*d.blocks > t.blocks) {
		return t.another(other)
	}
	return d
}

// another is a picture that differs as a whole.
func (t *blockTest) another(why string) difference {
	all := image.Rect(0, 0, t.layout.W, t.layout.H)
	return difference{score: 2, why: why, at: all, region: all, blocks: t.blocks}
}

// line is what a level of the reference becomes.
type line struct{ gain, offset, alike, shape float64 }

func (l line) left(ref, pic uint16) float64 {
	x, y := float64(ref)*lockstep.Unit, float64(pic)*lockstep.Unit
	return y - l.gain*x - l.offset
}

// cutOff takes from the luma of a block what a line beyond the range of levels
// can have cut off: for each pixel of the picture at an end of the range, at
// most as far as the line goes beyond it.
func (t *blockTest) cutOff(s *screen.Screen, block int, l line, left []float64) {
	top, bottom := max(0, 255*l.gain+l.offset-255), max(0, -l.offset)
	if top == 0 && bottom == 0 {
		return
	}
	box := t.box(block)
	for k := range left {
		part := image.Rect(0, 0, 4, 4).Add(box.Min).Add(image.Pt(k%2*4, k/2*4)).Intersect(box)
		high, low := 0, 0
		for y := part.Min.Y; y < part.Max.Y; y++ {
			for _, v := range s.Y[y*s.W+part.Min.X : y*s.W+part.Max.X] {
				switch v {
				case 255:
					high++
				case 0:
					low++
				}
			}
		}
		n := float64(max(1, part.Dx()*part.Dy()))
		if left[k] < 0 {
			left[k] = min(0, left[k]+top*float64(high)/n)
		} else {
			left[k] = max(0, left[k]-bottom*float64(low)/n)
		}
	}
}

// wrong says why the line is no mere difference of brightness and contrast.
func (l line) wrong() string {
	middle := l.gain*128 + l.offset - 128
	switch {
	case l.gain > mostGain || l.gain < 1/mostGain:
		return fmt.Sprintf("the contrast is %.2f times that of the reference, which is more than a capture changes it", l.gain)
	case max(middle, -middle) > mostOffset:
		return fmt.Sprintf("middle grey is %+.0f levels off, which is more than a capture changes it", middle)
	}
	return ""
}

// other says why the picture is not the reference at all; empty when it may be.
func (l line) other() string {
	if l.shape >= leastShape && l.alike < leastAlike {
		return fmt.Sprintf("the whole picture is another one: its blocks correlate with the reference by %.2f", l.alike)
	}
	return ""
}

// fit finds the line of a plane by least squares over the blocks that lie near
// it, from gain 1 and the median difference on.
func (t *blockTest) fit(f lockstep.Features, first, per int) line {
	var xs, ys []float64
	for i, counts := range t.counts {
		if !counts {
			continue
		}
		for k := i*perBlock + first; k < i*perBlock+first+per; k++ {
			xs = append(xs, float64(t.ref[k])*lockstep.Unit)
			ys = append(ys, float64(f[k])*lockstep.Unit)
		}
	}
	l := line{gain: 1, alike: 1}
	left := make([]float64, len(xs))
	for i := range xs {
		left[i] = ys[i] - xs[i]
	}
	l.offset = quantile(left, 0.5)
	for range 4 {
		for i := range xs {
			left[i] = math.Abs(ys[i] - l.gain*xs[i] - l.offset)
		}
		near := 3 * max(leastNoise, quantile(slices.Clone(left), 0.5)/0.6745)
		var n, sx, sy, sxx, sxy float64
		for i, x := range xs {
			if left[i] <= near {
				n, sx, sy, sxx, sxy = n+1, sx+x, sy+ys[i], sxx+x*x, sxy+x*ys[i]
			}
		}
		pull := n * gainPull * gainPull
		l.gain = (sxy - sx*sy/n + pull) / (sxx - sx*sx/n + pull)
		l.offset = (sy - l.gain*sx) / n
	}
	var n, sx, sy, sxx, sxy, syy float64
	for i, x := range xs {
		y := ys[i]
		n, sx, sy, sxx, sxy, syy = n+1, sx+x, sy+y, sxx+x*x, sxy+x*y, syy+y*y
	}
	vx, vy := sxx/n-sx/n*(sx/n), syy/n-sy/n*(sy/n)
	l.shape = math.Sqrt(max(0, vx))
	if vx > 0 {
		l.alike = (sxy/n - sx/n*(sy/n)) / math.Sqrt(vx*max(vy, 1e-9))
	}
	return l
}

// noise is the standard deviation of what is left over in every class, of luma
// and of chroma, by the median and the upper quartile of the absolute values (a
// difference in fewer than half of the blocks moves them little).
func (t *blockTest) noise(left []float64, classes []int) (out [classCount][2]float64) {
	var all [classCount + 1][2][]float64
	for i, counts := range t.counts {
		if !counts {
			continue
		}
		for k := range perBlock {
			x := math.Abs(left[i*perBlock+k])
			p := k / 4
			all[classes[i]][p] = append(all[classes[i]][p], x)
			all[classCount][p] = append(all[classCount][p], x)
		}
	}
	of := func(x []float64) float64 {
		s := max(quantile(x, 0.5)/0.6745, quantile(x, 0.75)/1.1503)
		return max(leastNoise, min(mostNoise, s))
	}
	for p := range 2 {
		whole := of(all[classCount][p])
		for c := range out {
			if out[c][p] = whole; len(all[c][p]) >= fewOfClass {
				out[c][p] = of(all[c][p])
			}
		}
	}
	return out
}

// tail widens thresholds where the noise is small, since then the steps of a
// codec are no normal noise: as package lockstep does.
func tail(noise float64) float64 {
	r := min(1, 1.5/noise)
	return 1 + 0.5*r*r
}

// judge compares every block with its thresholds.
func (t *blockTest) judge(left []float64, classes []int, noise [classCount][2]float64, d *difference) {
	cols := t.layout.Cols()
	unit := make([]float64, len(t.counts)) // squares of luma in multiples of the noise
	score := make([]float64, len(t.counts))
	for i, counts := range t.counts {
		if !counts {
			continue
		}
		v := left[i*perBlock:][:perBlock]
		luma, chroma := noise[classes[i]][0], noise[classes[i]][1]
		one, four := 0.0, 0.0
		for _, x := range v[:4] {
			one, four = max(one, math.Abs(x)), four+x*x
		}
		c, two := max(math.Abs(v[4]), math.Abs(v[5])), math.Hypot(v[4], v[5])
		unit[i] = four / luma / luma
		score[i] = max(
			max(one/t.one, math.Sqrt(four)/t.four)/luma/tail(luma),
			max(c/t.one, two/t.two)/chroma/tail(chroma))
	}
	for i, counts := range t.counts {
		if x, y := i%cols, i/cols; !counts || x+1 >= cols || y+1 >= t.layout.Rows() {
			continue
		}
		four := [4]int{i, i + 1, i + cols, i + cols + 1}
		sum, most := 0.0, i
		for _, k := range four {
			if sum += unit[k]; unit[k] > unit[most] {
				most = k
			}
		}
		score[most] = max(score[most], math.Sqrt(sum)/t.sixteen)
	}
	for i, s := range score {
		if s > d.score {
			d.score, d.at = s, t.box(i)
		}
		if s > 1 {
			d.blocks++
			d.region = d.region.Union(t.box(i))
		}
	}
}

// quantile sorts x and gives its q quantile, 0 when there is none.
func quantile(x []float64, q float64) float64 {
	if len(x) == 0 {
		return 0
	}
	slices.Sort(x)
	return x[int(q*float64(len(x)-1))]
}

// sight says what was found.
func (d difference) sight(what string) Sight {
	s := Sight{Score: d.score, Threshold: 1, By: fmt.Sprintf("block test at a noise of %.1f levels", d.noise), Noise: d.noise, At: d.at.Min, Size: d.at.Size()}
	s.Found = d.score > 1
	s.Holds = !s.Found
	have, limit := apart(d.score, 1)
	switch {
	case d.why != "":
		s.Seen, s.Why = "another picture", d.why
	case s.Found:
		s.At, s.Size = d.region.Min, d.region.Size()
		s.Seen = fmt.Sprintf("%s that differ in %s", count(d.blocks, "block"), box(d.region))
		s.Why = fmt.Sprintf("differs from %s in %s (x, y, width, height): %s of 8x8 pixels, the most at %s by %s times its threshold, noise %.1f levels",
			what, box(d.region), count(d.blocks, "block"), point(d.at.Min), have, d.noise)
	default:
		s.Why = fmt.Sprintf("no block differs from %s: the most is %s times its threshold, at %s, below %s; noise %.1f levels", what, have, point(d.at.Min), limit, d.noise)
	}
	return s
}

func box(r image.Rectangle) string {
	return fmt.Sprintf("[%d, %d, %d, %d]", r.Min.X, r.Min.Y, r.Dx(), r.Dy())
}
