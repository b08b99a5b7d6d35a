package checks_test

import (
	"image"
	"math"
	"math/rand/v2"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/checks"
	"latchproof/vision"
	"latchproof/vision/screen"
)

var _ = Describe("the noise of a picture", func() {
	It("is that which was put in", func() {
		r := rand.New(rand.NewPCG(6, 6))
		for _, sigma := range []float64{1, 2, 5, 10, 20} {
			for seed := range uint64(10) {
				s := noisy(street(seed), sigma, r)
				// Rounding to whole levels adds a variance of 1/12 (uniform error). The
				// quartile of n quads has a standard deviation of
				// sqrt(p(1-p)/n)/f(q), relative 0.0181·... of itself: 5 of them
				// for the 15,000 quads here are 6 %; what the picture draws is on top.
				want := math.Hypot(sigma, math.Sqrt(1.0/12))
				Expect(checks.Noise(s)).To(BeNumerically("~", want, 0.25*want), "picture %d", seed)
			}
		}
	})

	It("is none in a drawn picture, whatever is drawn", func() {
		for seed := range uint64(10) {
			Expect(checks.Noise(street(seed))).To(BeZero())
			Expect(checks.Noise(scene(seed))).To(BeZero())
		}
		Expect(checks.Noise(screen.New(256, 240))).To(BeZero())
		Expect(checks.Noise(screen.New(1, 1))).To(BeZero())
		bars := screen.New(256, 240)
		for i := range bars.Y {
			bars.Y[i] = byte(60 + 100*(i%2))
		}
		Expect(checks.Noise(bars)).To(BeZero())
	})

	It("does not count black, where noise is cut off", func() {
		r := rand.New(rand.NewPCG(6, 6))
		s := street(1)
		for i := range 256 * 150 {
			s.Y[i] = 0
		}
		Expect(checks.Noise(noisy(s, 10, r))).To(BeNumerically("~", 10, 2.5))
	})
})

var _ = Describe("the default threshold", func() {
	It("is what noise leaves of 0.9", func() {
		Expect(checks.DefaultThreshold(60, 0)).To(Equal(0.9))
		Expect(checks.DefaultThreshold(30, 40)).To(BeNumerically("~", 0.9*0.6, 1e-12)) // 3:4:5
		Expect(checks.DefaultThreshold(3, 40)).To(Equal(0.5))
	})

	It("finds in noise what 0.9 would lose, and nothing that 0.9 would not take without noise", func() {
		r := rand.New(rand.NewPCG(7, 7))
		pic := street(2)
		at := image.Pt(100, 190)
		man(pic, at.X, at.Y)
		cut := cropped(pic, image.Rectangle{Min: at, Max: at.Add(image.Pt(10, 20))})
		for i, v := range cut.Y { // a faint one
			cut.Y[i] = byte(80 + int(v)/8)
		}
		for y := range 20 {
			copy(pic.Y[(at.Y+y)*256+at.X:][:10], cut.Y[y*10:])
		}
		tpl, err := vision.NewTemplate(cut, nil)
		Expect(err).NotTo(HaveOccurred())
		Expect(tpl.Contrast()).To(BeNumerically("~", 11.6, 0.2))
		without := pic.Clone()
		for y := range 20 {
			copy(without.Y[(at.Y+y)*256+at.X:][:10], street(2).Y[(at.Y+y)*256+at.X:])
		}
		byDefault, strict := checks.NewShows(tpl, nil, 0), checks.NewShows(tpl, nil, checks.DefaultScore)
		lost := 0
		for range 20 {
			s := noisy(pic, 6, r)
			sight, err := byDefault.Look(s)
			Expect(err).NotTo(HaveOccurred())
			Expect(sight.Holds).To(BeTrue(), sight.Why)
			Expect(sight.At).To(Equal(at))
			Expect(sight.Threshold).To(BeNumerically("~", checks.DefaultThreshold(tpl.Contrast(), 6), 0.03))
			Expect(sight.Noise).To(BeNumerically("~", 6, 1))
			Expect(sight.Why).To(MatchRegexp(`^score 0\.\d{3} at \(100, 190\), threshold 0\.\d{3} \(noise \d\.\d, contrast 12\)$`))
			if other, _ := strict.Look(s); !other.Holds {
				lost++
			}
			Expect(byDefault.Look(noisy(without, 6, r))).To(HaveField("Holds", false))
			again, err := byDefault.Look(s)
			Expect(err).NotTo(HaveOccurred())
			Expect(again).To(Equal(sight), "the same picture gives the same threshold")
		}
		Expect(lost).To(BeNumerically(">", 10))
	})

	It("is unsure where noise drowns the template, and hides does not hold there", func() {
		r := rand.New(rand.NewPCG(7, 7))
		faint := cropped16(1)
		for i, v := range faint.Y {
			faint.Y[i] = byte(100 + int(v)/20)
		}
		tpl, err := vision.NewTemplate(faint, nil)
		Expect(err).NotTo(HaveOccurred())
		s := noisy(street(2), 12, r)
		for _, c := range []checks.Check{checks.NewShows(tpl, nil, 0), checks.NewHides(tpl, nil, 0)} {
			sight, err := c.Look(s)
			Expect(err).NotTo(HaveOccurred())
			Expect(sight.Unsure).To(BeTrue(), sight.Why)
			Expect(sight.Holds).To(BeFalse())
			Expect(sight.Why).To(MatchRegexp(`^cannot tell: a noise of 1\d\.\d levels drowns template, whose contrast is 3 levels; `))
		}
		sight, err := checks.NewHides(tpl, nil, 0.8).Look(s)
		Expect(err).NotTo(HaveOccurred())
		Expect(sight.Holds).To(BeTrue(), "a threshold that was given is taken as it is")
	})
})

var _ = Describe("the score", func() {
	It("is that of an example worked by hand", func() {
		// T = 1 2 / 3 4, I = 2 4 / 7 5, n = 4:
		//	S(T) = 10, S(I) = 18, S(TI) = 2+8+21+20 = 51
		//	S(TT) = 1+4+9+16 = 30, S(II) = 4+16+49+25 = 94
		//	score = (4·51 - 10·18) / sqrt((4·30 - 100)(4·94 - 324)) = 24 / sqrt(20·52) = 0.74421
		t, i := screen.New(2, 2), screen.New(4, 3)
		copy(t.Y, []byte{1, 2, 3, 4})
		copy(i.Y, []byte{
			9, 9, 9, 9,
			9, 2, 4, 9,
			9, 7, 5, 9,
		})
		tpl, err := vision.NewTemplate(t, nil)
		Expect(err).NotTo(HaveOccurred())
		sight, err := checks.NewShows(tpl, &checks.Place{Near: image.Pt(1, 1)}, 0.7).Look(i)
		Expect(err).NotTo(HaveOccurred())
		Expect(sight.Score).To(BeNumerically("~", 0.74421, 5e-6))
		Expect(sight.Score).To(Equal(24 / math.Sqrt(1040)))
	})
})
