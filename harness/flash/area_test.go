package flash_test

import (
	"image"
	"image/color"
	"math/rand/v2"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/flash"
	"latchproof/vision/screen"
)

// WCAG 2.2, Understanding SC 2.3.1: 25 % of any 341 by 256 rectangle anywhere on a
// display of 1024 by 768: 21 824 of 87 296 pixels.
var _ = Describe("the area", func() {
	notUnderRace()

	told := func(r ...image.Rectangle) []flash.Stretch {
		GinkgoHelper()
		f := blinking(1024, 768, r[0], black, white, 10)
		f.frames = 50
		one := f.draw
		f.draw = func(n int, s *screen.Screen) {
			one(n, s)
			for _, x := range r[1:] {
				c := white
				if n%6 >= 3 {
					c = black
				}
				fill(s, x, c)
			}
		}
		return f.screens().Stretches
	}

	It("must be more than a quarter of a field of 341x256", func() {
		// 136 x 160 = 21760, 24.93 %; 137 would be 25.1 %, in cells of 4 pixels
		// 148 x 148 = 21904, 25.09 %.
		Expect(told(image.Rect(400, 300, 536, 460))).To(BeEmpty())
		s := told(image.Rect(400, 300, 548, 448))
		Expect(s).To(HaveLen(1))
		Expect(s[0].Area).To(BeNumerically("~", 21904./87296, 1e-6))
		Expect(s[0].Place).To(Equal(image.Rect(400, 300, 548, 448)))
	})

	It("is combined, in step or not, within a field and not beyond", func() {
		a, b := image.Rect(0, 0, 100, 120), image.Rect(200, 100, 300, 220)
		Expect(told(a)).To(BeEmpty())
		s := told(a, b)
		Expect(s).To(HaveLen(1), "24000 pixels within 300x220, one after the other")
		Expect(s[0].Area).To(BeNumerically("~", 24000./87296, 1e-6))
		Expect(told(a, image.Rect(900, 100, 1000, 220))).To(BeEmpty(), "24000 pixels, far apart")
	})

	It("may lie anywhere", func() {
		for _, p := range []image.Point{{0, 0}, {876, 0}, {0, 620}, {876, 620}, {340, 254}} {
			p.X, p.Y = p.X/4*4, p.Y/4*4
			Expect(told(image.Rectangle{p, p.Add(image.Pt(148, 148))})).To(HaveLen(1), "%v", p)
		}
	})

	It("is the largest of all fields: the same as by trying every place", func() {
		r := rand.New(rand.NewPCG(3, 4))
		for _, size := range []image.Point{{256, 240}, {61, 47}, {24, 24}, {5, 3}} {
			w, h := size.X, size.Y
			cols, rows := (w+3)/4, (h+3)/4
			for range 3 {
				hot := make([]bool, cols*rows)
				for i := range hot {
					hot[i] = r.IntN(3) == 0
				}
				got, field := flash.LargestArea(w, h, func(i int) bool { return hot[i] })
				fw, fh := 341./1024*float64(w), 256./768*float64(h)
				Expect(field).To(BeNumerically("~", fw*fh, 1e-9))
				// Areas are linear between cell edges, so places a quarter of a pixel
				// apart miss the largest by less than a quarter of a pixel a side.
				best := 0.
				for y := 0.; y+fh <= float64(h); y += .5 {
					for x := 0.; x+fw <= float64(w); x += .5 {
						sum := 0.
						for cy := int(y) / 4; cy < min(int(y+fh)/4+1, rows); cy++ {
							for cx := int(x) / 4; cx < min(int(x+fw)/4+1, cols); cx++ {
								if hot[cy*cols+cx] {
									sum += cut(cx, w, x, x+fw) * cut(cy, h, y, y+fh)
								}
							}
						}
						best = max(best, sum)
					}
				}
				Expect(got).To(BeNumerically(">=", best-1e-6), "%v", size)
				Expect(got).To(BeNumerically("<=", best+fw/2+fh/2), "%v", size)
			}
		}
	})
})

// cut is the length of cell i on an axis of n pixels within a stretch of it.
func cut(i, n int, from, to float64) float64 {
	return max(0, min(to, float64(min(4*i+4, n)))-max(from, float64(4*i)))
}

// In linear light a red flash needs R/(R+G+B) >= 0.8 and more than 0.2 in (u', v'):
// WCAG 2.2. Distances by the CIE formulas, computed apart from this code (python3,
// the matrix of sRGB): red-white 0.258681585, red-magenta 0.241908513, red-(255,
// 128,0) 0.132192229, red-yellow 0.248580648.
var _ = Describe("a red flash", func() {
	notUnderRace()

	of := func(a, b color.RGBA) []flash.Kind {
		return kinds(blinking(64, 60, whole, a, b, 6).both())
	}
	rgb := func(r, g, b uint8) color.RGBA { return color.RGBA{r, g, b, 255} }

	It("is told beside no change of luminance", func() {
		Expect(of(red, grey(128))).To(Equal([]flash.Kind{flash.Red}), "0.2126 and 0.2159")
		Expect(of(red, grey(127))).To(Equal([]flash.Kind{flash.Red}))
	})

	It("is told at three a second no more than a general one", func() {
		for hz, want := range map[float64]int{2.9: 0, 3: 0, 3.1: 1} {
			Expect(blinking(64, 60, whole, red, grey(128), hz).both().Stretches).To(HaveLen(want), "%v", hz)
		}
	})

	It("is told together with a general one", func() {
		Expect(of(red, white)).To(ConsistOf(flash.General, flash.Red))
		Expect(of(red, black)).To(ConsistOf(flash.General, flash.Red))
		Expect(of(red, rgb(0, 255, 0))).To(ConsistOf(flash.General, flash.Red))
	})

	It("needs a saturated red", func() {
		// R/(R+G+B), linear: 0.7901 and 0.8104; both more than 0.23 from green.
		Expect(of(rgb(255, 102, 102), rgb(0, 255, 0))).To(Equal([]flash.Kind{flash.General}))
		Expect(of(rgb(255, 96, 96), rgb(0, 255, 0))).To(ConsistOf(flash.General, flash.Red))
	})

	It("needs two states more than 0.2 apart", func() {
		Expect(of(red, rgb(255, 128, 0))).To(ConsistOf(flash.General), "0.132 apart; 0.2126 and 0.3670")
		Expect(of(red, rgb(160, 100, 100))).To(BeEmpty(), "0.1938 apart")
		Expect(of(red, rgb(160, 108, 108))).To(Equal([]flash.Kind{flash.Red}), "0.2059 apart")
	})

	It("is not made of the noise of a dark picture", func() {
		Expect(of(rgb(40, 0, 0), black)).To(BeEmpty())
		Expect(of(rgb(40, 0, 0), rgb(0, 0, 40))).To(BeEmpty())
	})
})
