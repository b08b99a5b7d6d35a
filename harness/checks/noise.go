package checks

import (
	"fmt"

	"latchproof/vision/screen"
)

// Noise is the standard deviation of the noise of a picture's luma, levels, as
// far as it differs from pixel to pixel. It looks at quads of two by two pixels
// a b / c d by a-b-c+d, which is 0 on everything that does not change, changes
// in x only, or in y only, and has twice the deviation of independent noise (a
// Laplacian-like mask against structure: J. Immerkaer, "Fast noise variance
// estimation", Computer Vision and Image Understanding 64, 1996). Instead of a
// mean, which every corner of the picture would raise, it takes the lower
// quartile of the absolute values, which for normal noise is 0.3186 deviations
// (standard normal table). Quads with a pixel at the end of the range, where
// noise is cut off, do not count; with fewer than one quad in 16 left nothing is
// known and it is 0.
//
// Noise that is alike in neighbouring pixels, as after compression, is taken for
// less than it is; detail in more than half of the picture for more noise.
func Noise(s *screen.Screen) float64 {
	var counts [2*2*255 + 1]int
	total, n := 0, 0
	for y := 0; y+1 < s.H; y += 2 {
		up, low := s.Y[y*s.W:][:s.W], s.Y[(y+1)*s.W:][:s.W]
		for x := 0; x+1 < s.W; x += 2 {
			// Every second one begins a pixel later, for art made of larger dots.
			i := x + y/2%2
			if i+1 >= s.W {
				break
			}
			total++
			a, b, c, d := int(up[i]), int(up[i+1]), int(low[i]), int(low[i+1])
			if min(a, b, c, d) == 0 || max(a, b, c, d) == 255 {
				continue
			}
			v := a - b - c + d
			counts[max(v, -v)]++
			n++
		}
	}
	if n == 0 || n*16 < total {
		return 0
	}
	// On a straight line within the step of the quartile; the step of 0 is half
	// as wide as the others.
	sum := 0
	for v, c := range counts {
		if 4*(sum+c) >= n {
			part := (float64(n)/4 - float64(sum)) / float64(c)
			q := part / 2
			if v > 0 {
				q = float64(v) - 0.5 + part
			}
			if v == 0 && 2*c >= n {
				return 0 // most of the picture has no noise at all
			}
			return q / 0.3186 / 2
		}
		sum += c
	}
	return 0
}

const (
	// DefaultScore is the default threshold of a picture without noise; doc.go
	// says why.
	DefaultScore = 0.9
	// leastScore is the least default threshold, whatever the noise.
	leastScore = 0.5
)

// bar is a threshold and where it comes from.
type bar struct {
	score   float64
	noise   float64 // measured; 0 when the threshold was given
	by      string
	drowned bool // the noise leaves nothing to tell
}

// barFor is the threshold for a template of a contrast, in levels, on a screen:
// given, or when that is 0 the default for the noise of the screen.
func barFor(given, contrast float64, s *screen.Screen) bar {
	if given > 0 {
		return bar{score: given, by: "given"}
	}
	return defaultBar(contrast, Noise(s))
}

func defaultBar(contrast, noise float64) bar {
	b := bar{score: DefaultThreshold(contrast, noise), noise: noise}
	b.drowned = DefaultScore*attenuation(contrast, noise) < leastScore
	b.by = "default"
	if noise >= 0.5 {
		b.by = fmt.Sprintf("default for a noise of %.1f levels and a contrast of %.0f", noise, contrast)
	}
	return b
}

// DefaultThreshold is the threshold of a template of a contrast in noise, both
// standard deviations of luma in levels: see doc.go.
func DefaultThreshold(contrast, noise float64) float64 {
	return max(leastScore, DefaultScore*attenuation(contrast, noise))
}
