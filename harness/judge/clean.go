package judge

import (
	"encoding/binary"

	"latchproof/vision/screen"
)

// clean tells captures without noise, in which a still scene is the same to the
// last bit in picture after picture. See the package documentation.
type clean struct {
	prev    *screen.Screen
	have    bool
	samples int // pairs of pictures that were not equal throughout, with texture enough
	still   int // of them, those whose still parts were equal to the last bit
}

const (
	side      = 8   // of a block, pixels
	texture   = 2   // levels within a block that make it more than flat
	textured  = 16  // one block in so many must be more than flat before equality means anything
	stillPart = 0.3 // share of them that is equal in a pair of a capture without noise
	stillRate = 0.1 // share of such pairs that makes a capture one without noise
	sparse    = 8   // after the first 64 pairs one in so many is sampled
)

// sample looks at the pair of a picture and the one before it, sometimes. flat
// is asked of pictures that are equal to the one before.
func (c *clean) sample(k int, s *screen.Screen, equal bool) (flat bool) {
	if c.prev == nil {
		c.prev = screen.New(s.W, s.H)
	}
	looks := k < 64 || k%sparse == 0
	if (looks || equal) && c.have {
		blocks, same := c.count(s)
		flat = blocks*textured*side*side < s.W*s.H
		if looks && !flat && !equal {
			c.samples++
			if float64(same) > stillPart*float64(blocks) {
				c.still++
			}
		}
	}
	// The next picture may be sampled.
	if c.have = k+1 < 64 || (k+1)%sparse == 0; c.have {
		copy(c.prev.Y, s.Y)
	}
	if equal && !looks {
		blocks, _ := c.count(s)
		flat = blocks*textured*side*side < s.W*s.H
	}
	return flat
}

// yes says whether the capture has no noise, as far as is known.
func (c *clean) yes() bool { return float64(c.still) >= stillRate*float64(c.samples) }

// count counts the blocks of s that are more than flat, and those of them that
// are equal in the picture before.
func (c *clean) count(s *screen.Screen) (blocks, equal int) {
	for y := 0; y+side <= s.H; y += side {
		for x := 0; x+side <= s.W; x += side {
			lo, hi, same := byte(255), byte(0), true
			for dy := range side {
				i := (y+dy)*s.W + x
				row := s.Y[i : i+side : i+side]
				same = same && binary.LittleEndian.Uint64(row) == binary.LittleEndian.Uint64(c.prev.Y[i:])
				if hi > lo && hi-lo > texture { // no more to find out
					if !same {
						break
					}
					continue
				}
				for _, v := range row {
					lo, hi = min(lo, v), max(hi, v)
				}
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
