package screen

import "image/color"

// YCbCr converts one R'G'B' pixel (0..255) to full range Y, Cb, Cr.
//
// Source: Recommendation ITU-R BT.601 coefficients, full range coding of
// Recommendation ITU-T T.871; checked in colour_test.go against published
// colour bar codes.
func YCbCr(r, g, b byte) (y, cb, cr byte) { return color.RGBToYCbCr(r, g, b) }

// RGB converts one full range Y, Cb, Cr pixel to R'G'B' (0..255), clipped.
func RGB(y, cb, cr byte) (r, g, b byte) { return color.YCbCrToRGB(y, cb, cr) }

// Fixed point factors of BT.601, scaled by 65536 and rounded so that the luma
// factors add up to exactly 65536 and the colour difference factors to 0.
const (
	yr, yg, yb    = 19595, 38470, 7471
	cbr, cbg, cbb = -11056, -21712, 32768
	crr, crg, crb = 32768, -27440, -5328
	half          = 1 << 15
	zero          = 128<<16 + half
)

// SetBGR sets s from w*h pixels of three bytes B, G, R, rows from the top,
// without gaps. s is given the size w by h, reusing its planes when they are
// big enough. It panics when bgr is not exactly w*h*3 bytes.
func (s *Screen) SetBGR(w, h int, bgr []byte) {
	n := w * h
	if len(bgr) != 3*n {
		panic("screen: SetBGR: wrong number of bytes")
	}
	s.resize(w, h)
	y, cb, cr := s.Y[:n], s.Cb[:n], s.Cr[:n]
	for i := range y {
		p := bgr[3*i : 3*i+3 : 3*i+3]
		b, g, r := int32(p[0]), int32(p[1]), int32(p[2])
		y[i] = byte((yr*r + yg*g + yb*b + half) >> 16)
		// Only the upper end can overflow, by one: 255.5 before rounding.
		cb[i] = byte(min((cbr*r+cbg*g+cbb*b+zero)>>16, 255))
		cr[i] = byte(min((crr*r+crg*g+crb*b+zero)>>16, 255))
	}
}

// BGR writes s as w*h pixels of three bytes B, G, R into dst, which is grown
// as needed, and gives it back.
func (s *Screen) BGR(dst []byte) []byte {
	n := s.W * s.H
	if cap(dst) < 3*n {
		dst = make([]byte, 3*n)
	}
	dst = dst[:3*n]
	for i := range n {
		dst[3*i+2], dst[3*i+1], dst[3*i] = RGB(s.Y[i], s.Cb[i], s.Cr[i])
	}
	return dst
}

func (s *Screen) resize(w, h int) {
	n := w * h
	if cap(s.Y) < n || cap(s.Cb) < n || cap(s.Cr) < n {
		s.Y, s.Cb, s.Cr = make([]byte, n), make([]byte, n), make([]byte, n)
	}
	s.W, s.H, s.Y, s.Cb, s.Cr = w, h, s.Y[:n], s.Cb[:n], s.Cr[:n]
}
