package vision

import (
	"fmt"
	"image"
	"math"

	"latchproof/vision/screen"
)

// ScoreAt is the score of the template at the place p (its top left pixel). It
// gives ErrTooLarge, or ErrOutside when the template would reach over the edge.
func (t *Template) ScoreAt(s *screen.Screen, p image.Point) (float64, error) {
	all, err := t.places(s)
	if err != nil {
		return 0, err
	}
	if !p.In(all) {
		return 0, fmt.Errorf("%w: template of %dx%d at %v of %dx%d", ErrOutside, t.w, t.h, p, s.W, s.H)
	}
	return t.score(s, p.X, p.Y), nil
}

// places is the rectangle of all possible places.
func (t *Template) places(s *screen.Screen) (image.Rectangle, error) {
	if t.w > s.W || t.h > s.H {
		return image.Rectangle{}, fmt.Errorf("%w: %dx%d on %dx%d", ErrTooLarge, t.w, t.h, s.W, s.H)
	}
	return image.Rect(0, 0, s.W-t.w+1, s.H-t.h+1), nil
}

// score computes the formula of the package documentation in integers. The
// square root and the division are the only roundings.
func (t *Template) score(s *screen.Screen, x, y int) float64 {
	var sti, si, sii uint64
	for row := range t.h {
		from := (y+row)*s.W + x
		pic := s.Y[from : from+t.w]
		tpl := t.luma[row*t.w:][:len(pic)]
		// A row of up to 65536 pixels fits into 32 bits: 255·255·65536 < 2³².
		var a, b, c uint32
		if t.mask == nil {
			for i, v := range pic {
				p := uint32(v)
				a += p * uint32(tpl[i])
				b += p
				c += p * p
			}
		} else {
			mask := t.mask[row*t.w:][:len(pic)]
			for i, v := range pic {
				p := uint32(v) * uint32(mask[i])
				a += p * uint32(tpl[i])
				b += p
				c += p * p
			}
		}
		sti, si, sii = sti+uint64(a), si+uint64(b), sii+uint64(c)
	}
	return t.ratio(int64(sti), int64(si), int64(sii))
}

// ratio is the score from the sums over the used pixels.
func (t *Template) ratio(sti, si, sii int64) float64 {
	variance := t.n*sii - si*si
	if variance <= 0 {
		return 0
	}
	r := float64(t.n*sti-t.sum*si) / math.Sqrt(float64(t.variance)*float64(variance))
	return min(max(r, -1), 1)
}
