package flash_test

import (
	"image/color"
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/flash"
	"latchproof/harness/lockstep"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

// Relative luminance and R/(R+G+B) by the formulas of WCAG 2.2, (u', v') by those
// of CIE 1976 with the matrix of sRGB; computed in python3, apart from this code.
var _ = Describe("light", func() {
	DescribeTable("of a colour, within what 8-bit YCbCr keeps of it",
		func(r, g, b uint8, luminance, share, u, v float64) {
			w, err := flash.New(16, 16, 60)
			Expect(err).NotTo(HaveOccurred())
			s := screen.New(16, 16)
			fill(s, whole, color.RGBA{r, g, b, 255})
			for i, look := range []func() error{
				func() error { return w.Screen(0, s) },
				func() error { return w.Features(1, lockstep.Extract(s, nil)) },
			} {
				Expect(look()).To(Succeed())
				for cell := range 16 {
					l, lr, lg, lb := flash.LightOf(w, cell)
					Expect(l).To(BeNumerically("~", luminance, .008), "way %d", i)
					if lr+lg+lb > 0 {
						Expect(lr / (lr + lg + lb)).To(BeNumerically("~", share, .01))
					}
					gotU, gotV := flash.Chromaticity(lr, lg, lb)
					Expect(math.Hypot(gotU-u, gotV-v)).To(BeNumerically("<", .008))
				}
			}
		},
		Entry("white", uint8(255), uint8(255), uint8(255), 1., 1./3, 0.197839809, 0.468336313),
		Entry("black: taken for white's chromaticity", uint8(0), uint8(0), uint8(0), 0., 0., 0.197839809, 0.468336313),
		Entry("red", uint8(255), uint8(0), uint8(0), .2126, 1., 0.450704096, 0.522887343),
		Entry("green", uint8(0), uint8(255), uint8(0), .7152, 0., 0.125000001, 0.562500005),
		Entry("blue", uint8(0), uint8(0), uint8(255), .0722, 0., 0.175438605, 0.157894745),
		Entry("grey 128", uint8(128), uint8(128), uint8(128), 0.215860500114, 1./3, 0.197839809, 0.468336313),
		Entry("grey 119", uint8(119), uint8(119), uint8(119), 0.184474994500, 1./3, 0.197839809, 0.468336313),
		Entry("orange", uint8(255), uint8(128), uint8(0), 0.366983429681, 0.822462774, 0.319478835, 0.538847173),
		Entry("brick", uint8(200), uint8(80), uint8(80), 0.185958688151, 0.782608028, 0.334764722, 0.497875459),
		Entry("steel", uint8(100), uint8(150), uint8(200), 0.286921485682, 0.126175242, 0.167919971, 0.407759941),
	)

	It("of a grey is exact", func() {
		w, _ := flash.New(4, 4, 60)
		for i, g := range []struct {
			v uint8
			l float64
		}{{89, 0.099898728}, {90, 0.102241733}, {188, 0.502886458}, {231, 0.799102738}, {232, 0.806952258}, {254, 0.991102097}} {
			s := screen.New(4, 4)
			fill(s, whole, grey(g.v))
			Expect(w.Screen(console.Frame(i), s)).To(Succeed())
			l, _, _, _ := flash.LightOf(w, 0)
			Expect(l).To(BeNumerically("~", g.l, 1e-6))
		}
	})

	// The chromaticities of linear light need no rounding to 8 bits.
	DescribeTable("has a chromaticity", func(r, g, b, u, v float64) {
		gotU, gotV := flash.Chromaticity(r, g, b)
		Expect(gotU).To(BeNumerically("~", u, 1e-6))
		Expect(gotV).To(BeNumerically("~", v, 1e-6))
	},
		Entry("yellow", 1., 1., 0., 0.203941781, 0.552898977),
		Entry("cyan", 0., 1., 1., 0.138338756, 0.455500006),
		Entry("magenta", 1., 0., 1., 0.305044382, 0.329747559),
	)
})
