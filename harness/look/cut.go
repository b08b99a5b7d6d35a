package look

import (
	"image"
	"image/color"

	"latchproof/vision/screen"
)

// Mask says which pixels of a cut are used.
type Mask struct {
	rect  image.Rectangle
	alpha []byte
}

// NewMask uses all pixels of a rectangle of the raster.
func NewMask(r image.Rectangle) *Mask {
	m := &Mask{rect: r, alpha: make([]byte, r.Dx()*r.Dy())}
	for i := range m.alpha {
		m.alpha[i] = 255
	}
	return m
}

// Hide leaves the pixels of a rectangle of the raster out.
func (m *Mask) Hide(r image.Rectangle) {
	m.each(func(p image.Point, a *byte) {
		if p.In(r) {
			*a = 0
		}
	})
}

// Clear leaves the pixels of a screen out that differ from a colour by at most
// level levels in each of red, green and blue.
func (m *Mask) Clear(s *screen.Screen, c color.RGBA, level int) {
	near := func(a, b byte) bool { return max(int(a)-int(b), int(b)-int(a)) <= level }
	m.each(func(p image.Point, a *byte) {
		i := p.Y*s.W + p.X
		if r, g, b := screen.RGB(s.Y[i], s.Cb[i], s.Cr[i]); near(r, c.R) && near(g, c.G) && near(b, c.B) {
			*a = 0
		}
	})
}

func (m *Mask) each(visit func(image.Point, *byte)) {
	i := 0
	for y := m.rect.Min.Y; y < m.rect.Max.Y; y++ {
		for x := m.rect.Min.X; x < m.rect.Max.X; x++ {
			visit(image.Pt(x, y), &m.alpha[i])
			i++
		}
	}
}

// Alpha has a byte for every pixel of the rectangle, rows from the top: 255 is
// used, 0 is not.
func (m *Mask) Alpha() []byte { return m.alpha }

// Cut is the picture of a template: the pixels of r, transparent black where
// alpha (nil: nowhere) is below 128. The error is screen.ErrOutside.
func Cut(s *screen.Screen, r image.Rectangle, alpha []byte) (*image.NRGBA, error) {
	c, err := s.Crop(r)
	if err != nil {
		return nil, err
	}
	img := image.NewNRGBA(c.Bounds())
	for i := range c.Y {
		if alpha == nil || alpha[i] >= 128 {
			r, g, b := screen.RGB(c.Y[i], c.Cb[i], c.Cr[i])
			copy(img.Pix[4*i:], []byte{r, g, b, 255})
		}
	}
	return img, nil
}
