package lockstep

import (
	"fmt"

	"latchproof/vision/screen"
)

// FeatureVersion is the version of the features that Extract makes.
const FeatureVersion = 1

// Unit is the step of a feature in levels of an 8-bit picture: features are
// whole numbers of quarter levels, 0..1020.
const Unit = 0.25

// perBlock is the number of features of a block: four luma means, Cb, Cr.
const perBlock = 6

// Layout is the raster that features were taken from, pixels.
type Layout struct{ W, H int }

// Cols is the number of 8x8 blocks in a row; the last may be narrower.
func (l Layout) Cols() int { return (l.W + 7) / 8 }

// Rows is the number of rows of blocks; the last may be lower.
func (l Layout) Rows() int { return (l.H + 7) / 8 }

// Blocks is the number of blocks.
func (l Layout) Blocks() int { return l.Cols() * l.Rows() }

// Len is the number of features of a picture.
func (l Layout) Len() int { return l.Blocks() * perBlock }

// maxSide bounds a raster; nothing that a console draws comes near.
const maxSide = 1024

func (l Layout) valid() bool { return l.W > 0 && l.H > 0 && l.W <= maxSide && l.H <= maxSide }

// Features are the block means of one picture, Layout.Len() of them, blocks in
// rows from the top left. Each block has six: the luma means of its upper left,
// upper right, lower left and lower right 4x4 pixels, then the mean of Cb and
// of Cr over the block, all in Units, rounded half up. A 4x4 part that lies
// wholly outside the raster is 0; one that lies partly outside is the mean of
// the pixels it has.
type Features []uint16

// Extract makes the features of a screen into dst, which is grown as needed,
// and gives it back. A mean over an area of whole pixels is area averaging, so
// the values can be checked with any resampler.
func Extract(s *screen.Screen, dst Features) Features {
	l := Layout{s.W, s.H}
	n := l.Len()
	if cap(dst) < n {
		dst = make(Features, n)
	}
	dst = dst[:n]
	i := 0
	for y := 0; y < s.H; y += 8 {
		for x := 0; x < s.W; x += 8 {
			f := dst[i : i+perBlock : i+perBlock]
			i += perBlock
			if x+8 <= s.W && y+8 <= s.H {
				whole(s, x, y, f)
				continue
			}
			f[0] = mean(s.Y, s.W, s.H, x, y, 4)
			f[1] = mean(s.Y, s.W, s.H, x+4, y, 4)
			f[2] = mean(s.Y, s.W, s.H, x, y+4, 4)
			f[3] = mean(s.Y, s.W, s.H, x+4, y+4, 4)
			f[4] = mean(s.Cb, s.W, s.H, x, y, 8)
			f[5] = mean(s.Cr, s.W, s.H, x, y, 8)
		}
	}
	return dst
}

// whole is the common case: a block inside the raster.
func whole(s *screen.Screen, x, y int, f []uint16) {
	var l [4]uint32
	var cb, cr uint32
	for dy := 0; dy < 8; dy++ {
		at := (y+dy)*s.W + x
		p := s.Y[at : at+8 : at+8]
		half := dy >> 2 << 1
		l[half] += uint32(p[0]) + uint32(p[1]) + uint32(p[2]) + uint32(p[3])
		l[half+1] += uint32(p[4]) + uint32(p[5]) + uint32(p[6]) + uint32(p[7])
		p = s.Cb[at : at+8 : at+8]
		cb += uint32(p[0]) + uint32(p[1]) + uint32(p[2]) + uint32(p[3]) + uint32(p[4]) + uint32(p[5]) + uint32(p[6]) + uint32(p[7])
		p = s.Cr[at : at+8 : at+8]
		cr += uint32(p[0]) + uint32(p[1]) + uint32(p[2]) + uint32(p[3]) + uint32(p[4]) + uint32(p[5]) + uint32(p[6]) + uint32(p[7])
	}
	for k, v := range l {
		f[k] = uint16((v + 2) / 4) // 16 pixels, 4 units a level
	}
	f[4] = uint16((cb + 8) / 16) // 64 pixels
	f[5] = uint16((cr + 8) / 16)
}

// mean is the mean in Units of the part of a square that lies on the plane; 0
// when none does.
func mean(plane []byte, w, h, x, y, side int) uint16 {
	x1, y1 := min(x+side, w), min(y+side, h)
	if x >= x1 || y >= y1 {
		return 0
	}
	var sum uint32
	for yy := y; yy < y1; yy++ {
		for _, v := range plane[yy*w+x : yy*w+x1] {
			sum += uint32(v)
		}
	}
	n := uint32((x1 - x) * (y1 - y))
	return uint16((8*sum + n) / (2 * n))
}

// Greyed takes the colour out of features: every mean of Cb and of Cr becomes
// 128 levels. It is for captures whose colour is not that of one frame.
func (f Features) Greyed() {
	for i := 0; i+perBlock <= len(f); i += perBlock {
		f[i+4], f[i+5] = 128/Unit, 128/Unit
	}
}

func sameLayout(a, b Layout) error {
	if a != b {
		return fmt.Errorf("%w: %dx%d and %dx%d", ErrLayout, a.W, a.H, b.W, b.H)
	}
	return nil
}
