package vision

import (
	"fmt"
	"image"

	"latchproof/vision/screen"
)

// Match is the result of a search.
type Match struct {
	// At is the place of the best score, the first in reading order when
	// several are equal.
	At image.Point
	// Score of the best place, −1..1.
	Score float64
	// Second is the best score away from At: at a place that differs from At by
	// more than half the template's width or more than half its height. It is
	// −1 when there is no such place.
	Second float64
	// SecondAt is the place of Second, or (−1, −1).
	SecondAt image.Point
}

// directWork is the number of pixel products up to which computing every score
// in integers is cheaper than a search with OpenCV (BenchmarkMatch); twice as
// many with a mask.
const directWork = 1 << 16

// Match looks for the template. in restricts the places (positions of the top
// left pixel, Max exclusive); empty means everywhere. It gives ErrTooLarge, or
// ErrOutside when in holds no possible place.
func (t *Template) Match(s *screen.Screen, in image.Rectangle) (Match, error) {
	all, err := t.places(s)
	if err != nil {
		return Match{}, err
	}
	at := all
	if !in.Empty() {
		at = in.Intersect(all)
	}
	if at.Empty() {
		return Match{}, fmt.Errorf("%w: no place in %v for a template of %dx%d on %dx%d", ErrOutside, in, t.w, t.h, s.W, s.H)
	}
	f := field{at: at}
	limit := directWork
	if t.mask != nil {
		limit *= 2
	}
	if at.Dx()*at.Dy()*t.w*t.h <= limit {
		f.scores = t.direct(s, at)
	} else if f.scores, err = t.search(s, at); err != nil {
		return Match{}, err
	} else {
		f.margin = searchMargin
	}
	m := Match{Second: -1, SecondAt: image.Pt(-1, -1)}
	m.At, m.Score = f.best(t, s, image.Rectangle{})
	near := image.Rect(-(t.w / 2), -(t.h / 2), t.w/2+1, t.h/2+1).Add(m.At)
	if !at.In(near) {
		m.SecondAt, m.Second = f.best(t, s, near)
	}
	return m, nil
}

func (t *Template) direct(s *screen.Screen, at image.Rectangle) []float64 {
	scores := make([]float64, 0, at.Dx()*at.Dy())
	for y := at.Min.Y; y < at.Max.Y; y++ {
		for x := at.Min.X; x < at.Max.X; x++ {
			scores = append(scores, t.score(s, x, y))
		}
	}
	return scores
}
