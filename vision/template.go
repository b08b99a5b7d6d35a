package vision

import (
	"fmt"
	"image"

	"latchproof/vision/screen"
)

// Template is a small picture to look for, on luma, with an optional mask. It
// never changes, needs no Close, and may be used by several goroutines at
// once.
type Template struct {
	name string
	w, h int
	luma []byte // w*h, 0 where unused
	mask []byte // w*h, 1 is used, 0 is not; nil when all are used

	n, sum   int64 // used pixels and their sum
	variance int64 // n·S(TT) − S(T)², over 0
}

// LoadTemplate reads a PNG. Errors start with the path and wrap ErrFlat,
// ErrTooSmall, screen.ErrPNG or an error of package os.
func LoadTemplate(path string) (*Template, error) {
	s, alpha, err := screen.LoadPNG(path)
	if err != nil {
		return nil, err
	}
	t, err := NewTemplate(s, alpha)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	t.name = path
	return t, nil
}

// NewTemplate makes a template from a picture. alpha has one byte per pixel
// (below 128 is unused), or is nil when all are used. It gives ErrFlat,
// ErrTooSmall or ErrSize (alpha of another length).
func NewTemplate(s *screen.Screen, alpha []byte) (*Template, error) {
	t := &Template{w: s.W, h: s.H, luma: make([]byte, s.W*s.H)}
	copy(t.luma, s.Y)
	if alpha != nil && len(alpha) != len(t.luma) {
		return nil, fmt.Errorf("%w: %d alpha bytes for %dx%d pixels", ErrSize, len(alpha), s.W, s.H)
	}
	for i, a := range alpha {
		if a < 128 && t.mask == nil {
			t.mask = make([]byte, len(t.luma))
			for j := range t.mask {
				t.mask[j] = 1
			}
		}
		if a < 128 {
			t.mask[i], t.luma[i] = 0, 0
		}
	}
	var squares int64
	for i, v := range t.luma {
		if t.mask == nil || t.mask[i] == 1 {
			t.n++
			t.sum += int64(v)
			squares += int64(v) * int64(v)
		}
	}
	if t.w < 2 || t.h < 2 || t.n < 4 {
		return nil, fmt.Errorf("%w: it is %dx%d with %d used", ErrTooSmall, t.w, t.h, t.n)
	}
	if t.variance = t.n*squares - t.sum*t.sum; t.variance == 0 {
		return nil, ErrFlat
	}
	return t, nil
}

// Name is the path that the template was loaded from, or "".
func (t *Template) Name() string { return t.name }

// Size is width and height in pixels.
func (t *Template) Size() image.Point { return image.Pt(t.w, t.h) }

// Masked says whether some pixels are unused.
func (t *Template) Masked() bool { return t.mask != nil }
