package vision

// #cgo LDFLAGS: -lm
// #include "correlate.h"
import "C"

import (
	"fmt"
	"image"
	"sync"

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
// in integers is cheaper than a search with OpenCV (BenchmarkMatch), and
// directPixels that of a template's pixels up to which the sums fit 32 bits.
const (
	directWork   = 1 << 26
	directPixels = 1 << 15
)

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
	if t.w*t.h <= directPixels && at.Dx()*at.Dy()*t.w*t.h <= directWork {
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

// rooms are spare working memory of direct.
var rooms = sync.Pool{New: func() any { return new([]byte) }}

// direct computes the scores of all places in integers, as score does.
func (t *Template) direct(s *screen.Screen, at image.Rectangle) []float64 {
	across, down := at.Dx(), at.Dy()
	scores := make([]float64, across*down)
	room := rooms.Get().(*[]byte)
	defer rooms.Put(room)
	if need := int(C.lp_correlate_scratch(C.int(across), C.int(down), C.int(t.w), C.int(t.h))); cap(*room) < need {
		*room = make([]byte, need)
	}
	scratch := (*room)[:cap(*room)]
	var mask *C.uint8_t
	if t.mask != nil {
		mask = (*C.uint8_t)(&t.mask[0])
	}
	// at is inside of the places of s, and s has all its pixels.
	pic := s.Y[:s.W*s.H]
	C.lp_correlate((*C.uint8_t)(&pic[at.Min.Y*s.W+at.Min.X]), C.ptrdiff_t(s.W), C.int(across), C.int(down),
		(*C.uint8_t)(&t.luma[0]), mask, C.int(t.w), C.int(t.h),
		C.int64_t(t.n), C.int64_t(t.sum), C.int64_t(t.variance), (*C.uint8_t)(&scratch[0]), (*C.double)(&scores[0]))
	return scores
}
