package lockstep

import (
	"encoding/binary"
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

// whole is the common case: a block inside the raster. Rows of 8 bytes are added
// up as four sums of 16 bits: byte 0 and 1, 2 and 3, 4 and 5, 6 and 7.
func whole(s *screen.Screen, x, y int, f []uint16) {
	const even = 0x00ff00ff00ff00ff
	var top, bottom, cb, cr uint64
	at := y*s.W + x
	for dy := 0; dy < 4; dy++ {
		a, b := at+dy*s.W, at+(dy+4)*s.W
		u, v := binary.LittleEndian.Uint64(s.Y[a:]), binary.LittleEndian.Uint64(s.Y[b:])
		top += u&even + u>>8&even
		bottom += v&even + v>>8&even
		u, v = binary.LittleEndian.Uint64(s.Cb[a:]), binary.LittleEndian.Uint64(s.Cb[b:])
		cb += u&even + u>>8&even + v&even + v>>8&even
		u, v = binary.LittleEndian.Uint64(s.Cr[a:]), binary.LittleEndian.Uint64(s.Cr[b:])
		cr += u&even + u>>8&even + v&even + v>>8&even
	}
	// 16 pixels, 4 units a level.
	f[0] = uint16((top&0xffff + top>>16&0xffff + 2) / 4)
	f[1] = uint16((top>>32&0xffff + top>>48 + 2) / 4)
	f[2] = uint16((bottom&0xffff + bottom>>16&0xffff + 2) / 4)
	f[3] = uint16((bottom>>32&0xffff + bottom>>48 + 2) / 4)
	// 64 pixels: at most 16320, so the sum of the four fits into 16 bits.
	const all = 0x0001000100010001
	f[4] = uint16((cb*all>>48 + 8) / 16)
	f[5] = uint16((cr*all>>48 + 8) / 16)
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
