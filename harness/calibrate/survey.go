package calibrate

import (
	"context"
	"errors"
	"image"
	"io"
	"math"

	"latchproof/harness/judge"
	"latchproof/vision"
	"latchproof/vision/screen"
)

// survey looks at whole captured pictures, before anything is known of them.
type survey struct {
	size   image.Point
	n      int       // pictures that the profiles are of
	column []float64 // mean luma of every column, and row
	row    []float64
	border float64    // what is around the active picture, levels; NaN: there is nothing around
	sides  [4]float64 // colour of the outermost lines: left, right, top, bottom
	weave  weave
}

// surveyEvery is how many pictures lie between two that the edges are found in.
const surveyEvery = 3

// look surveys a capture.
func look(ctx context.Context, path string) (*survey, error) {
	video, err := vision.OpenVideo(path)
	if err != nil {
		return nil, err
	}
	defer video.Close()
	info := video.Info()
	s := &survey{size: image.Pt(info.Width, info.Height)}
	s.column, s.row = make([]float64, info.Width), make([]float64, info.Height)
	norm := vision.Normalizer{W: info.Width, H: info.Height}
	defer norm.Close()
	p := new(vision.Picture)
	defer func() { p.Close() }()
	whole := screen.New(info.Width, info.Height)
	for i := 0; ; i++ {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if err := video.Read(p); err != nil {
			if errors.Is(err, io.EOF) || errors.Is(err, vision.ErrTruncated) {
				break
			}
			return nil, err
		}
		if p.Empty() || p.Damaged() {
			s.weave.gap()
			continue
		}
		if err := norm.Picture(p, vision.AllLines, whole); err != nil {
			return nil, err
		}
		s.weave.add(whole)
		if l := whole.Luma(); i%surveyEvery == 0 && l.Max-l.Min > 60 {
			s.profile(whole)
		}
	}
	for i := range s.column {
		s.column[i] /= float64(max(s.n, 1) * s.size.Y)
	}
	for i := range s.row {
		s.row[i] /= float64(max(s.n, 1) * s.size.X)
	}
	for i, n := range [4]int{s.size.Y, s.size.Y, s.size.X, s.size.X} {
		s.sides[i] /= float64(max(s.n, 1) * n)
	}
	return s, nil
}

func (s *survey) profile(p *screen.Screen) {
	s.n++
	for y := range p.H {
		sum := 0.0
		for x, v := range p.Y[y*p.W : (y+1)*p.W] {
			sum += float64(v)
			s.column[x] += float64(v)
		}
		s.row[y] += sum
	}
	colour := func(side, at, step, n int) {
		cb, cr := 0, 0
		for ; n > 0; n-- {
			cb, cr, at = cb+int(p.Cb[at])-128, cr+int(p.Cr[at])-128, at+step
		}
		s.sides[side] += math.Abs(float64(cb)) + math.Abs(float64(cr))
	}
	colour(0, 0, p.W, p.H)
	colour(1, p.W-1, p.W, p.H)
	colour(2, 0, 1, p.W)
	colour(3, (p.H-1)*p.W, 1, p.W)
}

// bounds are the edges of the active picture, captured pixels, with fractions.
type bounds struct{ x0, y0, x1, y1 float64 }

func (b bounds) rect() image.Rectangle {
	r := func(x float64) int { return int(math.Floor(x + 0.5)) }
	return image.Rect(r(b.x0), r(b.y0), r(b.x1), r(b.y1))
}

// fraction is how far the edge farthest from a whole pixel is from it.
func (b bounds) fraction() (worst float64) {
	for _, x := range []float64{b.x0, b.y0, b.x1, b.y1} {
		worst = max(worst, math.Abs(x-math.Round(x)))
	}
	return worst
}

// edges finds the active picture by the mean luma of columns and rows: the
// border is one flat dark grey level, and the picture is brighter in the mean of
// many pictures. ok is false when an edge is too dark to be seen.
func (s *survey) edges() (b bounds, ok bool) {
	if s.n == 0 {
		return b, false
	}
	n, m := len(s.column), len(s.row)
	s.border = math.Inf(1)
	var framed [4]bool // the side has a border
	for i, v := range [4]float64{s.column[0], s.column[n-1], s.row[0], s.row[m-1]} {
		if framed[i] = v <= darkest && (v <= colourless || s.sides[i] <= greyest); framed[i] {
			s.border = min(s.border, v)
		}
	}
	if math.IsInf(s.border, 1) {
		s.border = math.NaN()
		return bounds{0, 0, float64(n), float64(m)}, true
	}
	c, r := less(s.column, s.border), less(s.row, s.border)
	ok = true
	edge := func(side int, v []float64) float64 {
		if !framed[side] {
			return 0
		}
		at, found := edgeOf(v)
		ok = ok && found
		return at
	}
	b.x0, b.x1 = edge(0, c), float64(n)-edge(1, backwards(c))
	b.y0, b.y1 = edge(2, r), float64(m)-edge(3, backwards(r))
	return b, ok && b.x1-b.x0 >= 64 && b.y1-b.y0 >= 64
}

const (
	darkest = 32.0 // levels; brighter is no border
	// A border is grey, but what a codec spills from the picture into it is not:
	// below the first level colour (levels of Cb and Cr together off grey) does
	// not count.
	colourless = 11.0
	greyest    = 4.0
)

const (
	seenLevel = 2.0  // an edge must rise that many levels
	seenShare = 0.12 // of what lies behind it
	fullShare = 0.88 // from there on a line belongs to the picture wholly
)

// edgeOf is where a profile rises from 0. A line that shows its share c of what
// the line behind it shows is covered by the picture to c of its width: the edge
// is at 1-c of it.
func edgeOf(v []float64) (at float64, ok bool) {
	for i := 0; i+3 < len(v); i++ {
		behind := max(v[i+1], v[i+2])
		if v[i] < seenLevel*seenShare || v[i] < seenShare*behind {
			continue
		}
		full := i // first line that belongs to the picture wholly
		part := 0.0
		if c := v[i] / max(v[i+1], 1e-9); c < fullShare {
			full, part = i+1, c
		}
		// The picture must go on: a ripple of a codec does not.
		if v[full] < seenLevel || v[full+1] < seenLevel/2 {
			continue
		}
		return float64(full) - part, true
	}
	return 0, false
}

func less(v []float64, x float64) []float64 {
	out := make([]float64, len(v))
	for i := range v {
		out[i] = v[i] - x
	}
	return out
}

func backwards(v []float64) []float64 {
	out := make([]float64, len(v))
	for i := range v {
		out[len(v)-1-i] = v[i]
	}
	return out
}

// weave gathers what tells whether pictures are woven of two fields. T(k) and
// B(k) are the even and the odd lines of picture k. The farther two fields are
// apart in time, the more they differ, as long as something moves one way:
//
//	                 T(k) B(k)   B(k) T(k+1)   T(k) B(k+1)
//	not woven        0           1             1            pictures apart
//	top one first    1/2         1/2           3/2
//	bottom one first 1/2         3/2           1/2
type weave struct {
	last [2][]float64 // means of squares of 16 by 8 lines of the picture before, even and odd lines
	// Sums of squares of differences, and how much the picture changed, for every
	// pair of pictures.
	within, after, across, change []float64
}

func (w *weave) gap() { w.last = [2][]float64{} }

const weaveSide = 16

func (w *weave) add(p *screen.Screen) {
	var now [2][]float64
	cols, rows := p.W/weaveSide, p.H/weaveSide
	for f := range 2 {
		now[f] = make([]float64, cols*rows)
		for y := f; y < rows*weaveSide; y += 2 {
			line := p.Y[y*p.W:]
			for c := range cols {
				sum := 0
				for _, v := range line[c*weaveSide : (c+1)*weaveSide] {
					sum += int(v)
				}
				now[f][y/weaveSide*cols+c] += float64(sum)
			}
		}
		for i := range now[f] {
			now[f][i] /= weaveSide * weaveSide / 2
		}
	}
	if w.last[0] != nil {
		w.within = append(w.within, apart(w.last[0], w.last[1]))
		w.after = append(w.after, apart(w.last[1], now[0]))
		w.across = append(w.across, apart(w.last[0], now[1]))
		w.change = append(w.change, apart(w.last[0], now[0])+apart(w.last[1], now[1]))
	}
	w.last = now
}

func apart(a, b []float64) (sum float64) {
	for i := range a {
		d := a[i] - b[i]
		sum += d * d
	}
	return sum
}

// order is which fields there are; ok is false when nothing moved enough to tell.
func (w *weave) order() (f judge.Fields, ok bool) {
	// The quarter of the pairs that move most counts; cuts from one scene to
	// another, which move far more than all others, do not.
	top, middle := quantile(w.change, 0.75), quantile(w.change, 0.95)
	var after, across float64
	for i, c := range w.change {
		if c >= top && c <= 4*middle {
			after, across = after+w.after[i], across+w.across[i]
		}
	}
	still := 2 * quantile(w.change, 0.25)
	if len(w.change) < 16 || top <= still && top < float64(len(w.last[0])) {
		return judge.NoFields, false
	}
	switch {
	case after < 0.7*across:
		return judge.TopFirst, true
	case across < 0.7*after:
		return judge.BottomFirst, true
	}
	return judge.NoFields, true
}
