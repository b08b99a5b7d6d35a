package vision_test

import (
	"image"
	"math"
	"math/rand/v2"

	"latchproof/vision"
	"latchproof/vision/screen"
)

// lights draws a picture of w by h with repeatable structure: soft steps and a
// few hard edges, nothing periodic.
func lights(w, h int, seed uint64) *screen.Screen {
	rng := rand.New(rand.NewPCG(seed, 1))
	s := screen.New(w, h)
	for range 40 {
		x, y := rng.IntN(w), rng.IntN(h)
		dx, dy := 4+rng.IntN(w/6), 4+rng.IntN(h/6)
		v, cb, cr := byte(16+rng.IntN(200)), byte(64+rng.IntN(128)), byte(64+rng.IntN(128))
		for j := y; j < min(y+dy, h); j++ {
			for i := x; i < min(x+dx, w); i++ {
				s.Y[j*w+i], s.Cb[j*w+i], s.Cr[j*w+i] = v, cb, cr
			}
		}
	}
	return s
}

// sprite draws a 16 by 16 figure in four levels, as an 8-bit console would.
func sprite(seed uint64) *screen.Screen {
	rng := rand.New(rand.NewPCG(seed, 2))
	s := screen.New(16, 16)
	levels := []byte{20, 90, 160, 230}
	for y := range 16 {
		for x := range 8 {
			v := levels[rng.IntN(4)]
			s.Y[y*16+x], s.Y[y*16+15-x] = v, v
		}
	}
	s.Y[3*16+2], s.Y[9*16+12] = 230, 20 // not its own mirror image
	return s
}

// put copies sp onto s at p, leaving out pixels whose alpha is below 128.
func put(s, sp *screen.Screen, alpha []byte, p image.Point) {
	for y := range sp.H {
		for x := range sp.W {
			if alpha != nil && alpha[y*sp.W+x] < 128 {
				continue
			}
			to, from := (p.Y+y)*s.W+p.X+x, y*sp.W+x
			s.Y[to], s.Cb[to], s.Cr[to] = sp.Y[from], sp.Cb[from], sp.Cr[from]
		}
	}
}

// noisy adds independent normal noise to all three planes.
func noisy(s *screen.Screen, sigma float64, rng *rand.Rand) *screen.Screen {
	n := s.Clone()
	for _, plane := range [][]byte{n.Y, n.Cb, n.Cr} {
		for i, v := range plane {
			plane[i] = byte(math.Round(min(max(float64(v)+sigma*rng.NormFloat64(), 0), 255)))
		}
	}
	return n
}

// project draws s into a black capture of w by h so that it fills active; it
// is written apart from the code under test: each captured pixel is the mean
// of 2 by 2 points of the raster under it.
func project(s *screen.Screen, w, h int, active image.Rectangle) []byte {
	out := make([]byte, 3*w*h)
	src := s.BGR(nil)
	for y := active.Min.Y; y < active.Max.Y; y++ {
		for x := active.Min.X; x < active.Max.X; x++ {
			var sum [3]int
			for j := range 2 {
				for i := range 2 {
					u := (4*(x-active.Min.X) + 1 + 2*i) * s.W / (4 * active.Dx())
					v := (4*(y-active.Min.Y) + 1 + 2*j) * s.H / (4 * active.Dy())
					for c := range 3 {
						sum[c] += int(src[3*(v*s.W+u)+c])
					}
				}
			}
			for c := range 3 {
				out[3*(y*w+x)+c] = byte((sum[c] + 2) / 4)
			}
		}
	}
	return out
}

// imageOf makes a captured picture.
func imageOf(w, h int, bgr []byte) *vision.Image {
	img := vision.NewImage()
	if err := img.SetBGR(w, h, bgr); err != nil {
		panic(err)
	}
	return img
}
