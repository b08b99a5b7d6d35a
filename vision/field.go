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
	top := math.Inf(-1)
	f.each(skip, func(_ int, _ image.Point, v float64) { top = max(top, v) })
	if f.margin == 0 {
		var at image.Point
		found := false
		f.each(skip, func(_ int, p image.Point, v float64) {
			if v == top && !found {
				at, found = p, true
			}
		})
		return at, top
	}
	// The true best scores at least top − margin, and so appears at least as
	// top − 2·margin.
	var near []int
	f.each(skip, func(i int, _ image.Point, v float64) {
		if v >= top-2*f.margin {
			near = append(near, i)
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
		p := f.at.Min.Add(image.Pt(i%f.at.Dx(), i/f.at.Dx()))
		if v := t.score(s, p.X, p.Y); v > score {
			at, score = p, v
		}
	}
	return at, score
}

// each visits the places outside of skip in reading order.
func (f field) each(skip image.Rectangle, visit func(i int, p image.Point, v float64)) {
	i := 0
	for y := f.at.Min.Y; y < f.at.Max.Y; y++ {
		for x := f.at.Min.X; x < f.at.Max.X; x++ {
			if p := image.Pt(x, y); !p.In(skip) {
				visit(i, p, f.scores[i])
			}
			i++
		}
	}
}
