package screen

import (
	"errors"
	"fmt"
	"image"
)

// ErrOutside says that a rectangle is empty or reaches over the picture's edge.
var ErrOutside = errors.New("rectangle is not inside the picture")

// Bounds is the raster as a rectangle with its origin at (0, 0).
func (s *Screen) Bounds() image.Rectangle { return image.Rect(0, 0, s.W, s.H) }

// Crop copies the pixels of r (Max is exclusive). It gives ErrOutside when r
// is empty or not wholly inside the picture.
func (s *Screen) Crop(r image.Rectangle) (*Screen, error) {
	if r.Empty() || !r.In(s.Bounds()) {
		return nil, fmt.Errorf("%w: %v of %dx%d", ErrOutside, r, s.W, s.H)
	}
	c := New(r.Dx(), r.Dy())
	for y := range c.H {
		from, to := (r.Min.Y+y)*s.W+r.Min.X, y*c.W
		copy(c.Y[to:to+c.W], s.Y[from:])
		copy(c.Cb[to:to+c.W], s.Cb[from:])
		copy(c.Cr[to:to+c.W], s.Cr[from:])
	}
	return c, nil
}
