package checks_test

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	stdpng "image/png"
	"math/rand/v2"

	. "github.com/onsi/gomega"

	"latchproof/vision/screen"
)

func pt(p image.Point) string { return fmt.Sprintf("(%d, %d)", p.X, p.Y) }

// withHole is the PNG of a 16x16 picture whose middle 8x8 is transparent.
func withHole(s *screen.Screen) []byte {
	img := image.NewNRGBA(image.Rect(0, 0, 16, 16))
	for y := range 16 {
		for x := range 16 {
			c := color.NRGBA{R: s.Y[y*16+x], G: s.Y[y*16+x], B: s.Y[y*16+x], A: 255}
			if x >= 4 && x < 12 && y >= 4 && y < 12 {
				c = color.NRGBA{R: 255}
			}
			img.SetNRGBA(x, y, c)
		}
	}
	var b bytes.Buffer
	Expect(stdpng.Encode(&b, img)).To(Succeed())
	return b.Bytes()
}

func rect(x0, y0, x1, y1 int) image.Rectangle { return image.Rect(x0, y0, x1, y1) }

func seeded() *rand.Rand { return rand.New(rand.NewPCG(11, 4)) }
