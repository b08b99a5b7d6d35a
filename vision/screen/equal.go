package screen

import "bytes"

// Equal says whether a and b have the same size and the same bytes.
func Equal(a, b *Screen) bool {
	return a.W == b.W && a.H == b.H &&
		bytes.Equal(a.Y, b.Y) && bytes.Equal(a.Cb, b.Cb) && bytes.Equal(a.Cr, b.Cr)
}
