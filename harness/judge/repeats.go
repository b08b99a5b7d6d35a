package judge

import (
	"bytes"

	"latchproof/vision/screen"
)

// repeats tells pictures that the card delivered again from pictures of a
// scene that stands still. See the package documentation.
type repeats struct {
	prev    *screen.Screen
	samples int // pairs of pictures that were not equal throughout, with texture enough
	still   int // of them, those whose still parts were equal to the last bit
}

const (
	side      = 8   // of a block, pixels
	texture   = 2   // levels within a block that make it more than flat
	textured  = 16  // one block in so many must be more than flat before equality means anything
	stillPart = 0.3 // share of them that is equal in a pair of a capture without noise
	stillRate = 0.1 // share of such pairs that makes a capture one without noise
)

func newRepeats(w, h int) *repeats { return &repeats{prev: screen.New(w, h)} }

// next takes the next picture and says whether it is the one before, delivered
// again. The first picture never is.
func (r *repeats) next(s *screen.Screen, first bool) bool {
	defer r.keep(s)
	if first {
		return false
	}
	blocks, equal := r.count(s)
	if blocks*textured*side*side < s.W*s.H {
		return false // flat: a codec makes it the same whatever the noise
	}
	if !screen.Equal(s, r.prev) {
		r.samples++
		if float64(equal) > stillPart*float64(blocks) {
			r.still++
		}
		return false
	}
	clean := float64(r.still) >= stillRate*float64(r.samples)
	return !clean
}

// count counts the blocks of s that are more than flat, and those of them that
// are equal in the picture before.
func (r *repeats) count(s *screen.Screen) (blocks, equal int) {
	for y := 0; y+side <= s.H; y += side {
		for x := 0; x+side <= s.W; x += side {
			lo, hi, same := byte(255), byte(0), true
			for dy := range side {
				i := (y+dy)*s.W + x
				row := s.Y[i : i+side]
				for _, v := range row {
					lo, hi = min(lo, v), max(hi, v)
				}
				same = same && bytes.Equal(row, r.prev.Y[i:i+side])
			}
			if hi-lo > texture {
				blocks++
				if same {
					equal++
				}
			}
		}
	}
	return blocks, equal
}

func (r *repeats) keep(s *screen.Screen) {
	copy(r.prev.Y, s.Y)
	copy(r.prev.Cb, s.Cb)
	copy(r.prev.Cr, s.Cr)
}
