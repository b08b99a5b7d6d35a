package screen

// Screen is one picture on the console's own raster: three full-resolution
// planes of W*H bytes, rows from the top, pixels from the left. Y is luma and
// Cb, Cr are colour differences, all full range (0..255, chroma zero at 128)
// with the coefficients of Recommendation ITU-R BT.601.
type Screen struct {
	W, H      int
	Y, Cb, Cr []byte
}

// New makes a black screen.
func New(w, h int) *Screen {
	s := &Screen{W: w, H: h, Y: make([]byte, w*h), Cb: make([]byte, w*h), Cr: make([]byte, w*h)}
	for i := range s.Cb {
		s.Cb[i], s.Cr[i] = 128, 128
	}
	return s
}

// Clone makes an independent copy.
func (s *Screen) Clone() *Screen {
	c := New(s.W, s.H)
	copy(c.Y, s.Y)
	copy(c.Cb, s.Cb)
	copy(c.Cr, s.Cr)
	return c
}
