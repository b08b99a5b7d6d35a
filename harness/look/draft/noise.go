package draft

import (
	"math"
	"slices"

	"latchproof/specs/console"
	"latchproof/vision/screen"
)

// noise is the standard deviation of the luma of a pixel from picture to picture
// of a thing that stands still, levels. In each pair of neighbouring frames the
// root mean square of the difference is taken of every block of 8x8 pixels, and
// the lower quartile of the blocks that are not flat: what moves, or shows no
// signal at all, does not count unless it is most of the picture. The median of
// the pairs, over √2, is the answer; 0 when there are no pairs.
func noise(screens map[console.Frame]*screen.Screen) float64 {
	var pairs []float64
	for f, b := range screens {
		a, ok := screens[f-1]
		if !ok {
			continue
		}
		var blocks []float64
		for y := 0; y+step <= a.H; y += step {
			for x := 0; x+step <= a.W; x += step {
				var sum, square, differ float64
				for dy := range step {
					for dx := range step {
						i := (y+dy)*a.W + x + dx
						v, d := float64(a.Y[i]), float64(a.Y[i])-float64(b.Y[i])
						sum, square, differ = sum+v, square+v*v, differ+d*d
					}
				}
				const n = step * step
				if square/n-sum*sum/n/n >= 4 {
					blocks = append(blocks, math.Sqrt(differ/n))
				}
			}
		}
		if len(blocks) > 0 {
			slices.Sort(blocks)
			pairs = append(pairs, blocks[len(blocks)/4])
		}
	}
	if len(pairs) == 0 {
		return 0
	}
	slices.Sort(pairs)
	return pairs[len(pairs)/2] / math.Sqrt2
}
