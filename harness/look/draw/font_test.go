package draw_test

import (
	"image"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/look/draw"
)

var _ = Describe("the font", func() {
	It("has a glyph of its own for every printable ASCII character", func() {
		seen := map[string]rune{}
		for c := '!'; c <= '~'; c++ {
			glyph, ok := draw.Font[c]
			Expect(ok).To(BeTrue(), "%q", c)
			shape := strings.Join(glyph, "/")
			Expect(shape).To(ContainSubstring("#"))
			Expect(seen).NotTo(HaveKey(shape), "%q is like %q", c, seen[shape])
			seen[shape] = c
			Expect(len(glyph)).To(BeNumerically("<=", 9), "%q", c)
			for _, row := range glyph {
				Expect(row).To(MatchRegexp(`^[.#]{5}$`), "%q", c)
			}
		}
		Expect(draw.Font).To(HaveLen('~' - '!' + 1))
	})

	It("draws every dot at its place, and a box for what it does not have", func() {
		img := image.NewRGBA(image.Rect(0, 0, 40, 30))
		draw.Text(img, image.Pt(3, 2), "L\u00e9", 2)
		lit := func(x, y int) bool { return img.RGBAAt(x, y) == draw.Ink }
		for y := range 7 {
			for x := range 5 {
				wantL := x == 0 || y == 6
				wantBox := x == 0 || x == 4 || y == 0 || y == 6
				for _, d := range []image.Point{{X: 0, Y: 0}, {X: 1, Y: 1}} {
					Expect(lit(3+2*x+d.X, 2+2*y+d.Y)).To(Equal(wantL), "L %d %d", x, y)
					Expect(lit(15+2*x+d.X, 2+2*y+d.Y)).To(Equal(wantBox), "box %d %d", x, y)
				}
			}
		}
	})

	It("cuts a text to the room that there is", func() {
		Expect(draw.TextWidth("abc", 2)).To(Equal(34))
		Expect(draw.Shorten("abcdef", 1, 35)).To(Equal("abcdef"))
		Expect(draw.Shorten("abcdef", 1, 34)).To(Equal("ab..."))
		Expect(draw.Shorten("abcdef", 1, 3)).To(Equal("..."))
	})
})
