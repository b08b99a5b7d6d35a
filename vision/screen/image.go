package screen

import (
	"image"
	"image/color"
)

// FromImage converts any picture. Alpha is ignored: the colour under a
// transparent pixel is taken as it is stored.
func FromImage(img image.Image) *Screen {
	s, _ := fromImage(img)
	return s
}

// fromImage also gives the alpha plane, or nil when every pixel is opaque.
func fromImage(img image.Image) (*Screen, []byte) {
	b := img.Bounds()
	s := New(b.Dx(), b.Dy())
	alpha := make([]byte, s.W*s.H)
	opaque := true
	i := 0
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			c := color.NRGBAModel.Convert(img.At(x, y)).(color.NRGBA)
			s.Y[i], s.Cb[i], s.Cr[i] = YCbCr(c.R, c.G, c.B)
			alpha[i] = c.A
			opaque = opaque && c.A == 255
			i++
		}
	}
	if opaque {
		return s, nil
	}
	return s, alpha
}

// ToImage converts to an opaque R'G'B' picture with its origin at (0, 0).
func (s *Screen) ToImage() *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, s.W, s.H))
	for i := range s.W * s.H {
		p := img.Pix[4*i : 4*i+4 : 4*i+4]
		p[0], p[1], p[2] = RGB(s.Y[i], s.Cb[i], s.Cr[i])
		p[3] = 255
	}
	return img
}
