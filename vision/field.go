package vision

import (
	"image"
	"math"
	"sort"

	"latchproof/vision/screen"
)

// field is the scores of a rectangle of places, in reading order. They may be
// wrong by up to margin; 0 means that they are exact.
type field struct {
	at     image.Rectangle
	scores []float64
	margin float64
}

// maxCandidates bounds the exact evaluations of best when a picture is so dull
// that thousands of places score the same.
const maxCandidates = 64

// best is the place with the highest exact score outside of skip, the first in
// reading order when several are equal. There must be one.
func (f field) best(t *Template, s *screen.Screen, skip image.Rectangle) (image.Point, float64) {
	top, first := math.Inf(-1), 0
	f.spans(skip, func(from, to int) {
		for i, v := range f.scores[from:to] {
			if v > top {
				top, first = v, from+i
			}
		}
	})
	if f.margin == 0 {
		return f.place(first), top
	}
	// The true best scores at least top − margin, and so appears at least as
	// top − 2·margin.
	var near []int
	f.spans(skip, func(from, to int) {
		for i, v := range f.scores[from:to] {
			if v >= top-2*f.margin {
				near = append(near, from+i)
			}
		}
	})
	if len(near) > maxCandidates {
		sort.SliceStable(near, func(i, j int) bool { return f.scores[near[i]] > f.scores[near[j]] })
		near = near[:maxCandidates]
		sort.Ints(near)
	}
	var at image.Point
	score := math.Inf(-1)
	for _, i := range near {
		p := f.place(i)
		if v := t.score(s, p.X, p.Y); v > score {
			at, score = p, v
		}
	}
	return at, score
}

// place is the place of score i.
func (f field) place(i int) image.Point {
	return f.at.Min.Add(image.Pt(i%f.at.Dx(), i/f.at.Dx()))
}

// spans visits the scores outside of skip as index ranges, in reading order.
func (f field) spans(skip image.Rectangle, visit func(from, to int)) {
	skip = skip.Intersect(f.at)
	w := f.at.Dx()
	for y := f.at.Min.Y; y < f.at.Max.Y; y++ {
		row := (y - f.at.Min.Y) * w
		if y < skip.Min.Y || y >= skip.Max.Y {
			visit(row, row+w)
			continue
		}
		visit(row, row+skip.Min.X-f.at.Min.X)
		visit(row+skip.Max.X-f.at.Min.X, row+w)
	}
}
