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

// The law of doc.go: a correlation is attenuated by noise in one of the two
// variables to c/sqrt(c*c+sigma*sigma), its reliability under the root
// (C. Spearman, American Journal of Psychology 15, 1904). The mean of 400
// scores is compared with it; the noise of one score has a standard deviation
// of at most 1/sqrt(n) for n pixels, the mean of 400 one of a twentieth of that,
// and five of those are allowed, together with the bias of the sample
// correlation, at most 1/(2n) (H. Hotelling, Journal of the Royal Statistical
// Society B 15, 1953).
var _ = Describe("the threshold", func() {
	// checked is a 16x16 template of contrast c around level 128 in 2x2 squares.
	checked := func(c int) *screen.Screen {
		s := screen.New(16, 16)
		for i := range s.Y {
			s.Y[i] = byte(128 - c)
			if (i/16/2+i%16/2)%2 == 0 {
				s.Y[i] = byte(128 + c)
			}
		}
		return s
	}
	DescribeTable("meets noise as the law says", func(c int, sigma float64) {
		r := rand.New(rand.NewPCG(uint64(c), 7))
		tpl, err := vision.NewTemplate(checked(c), nil)
		Expect(err).NotTo(HaveOccurred())
		check := checks.NewShows(tpl, &checks.Place{}, checks.DefaultScore)
		const n, times = 256, 400
		var sum float64
		held := 0
		for range times {
			sight, err := check.Look(noisy(checked(c), sigma, r))
			Expect(err).NotTo(HaveOccurred())
			sum += sight.Score
			if sight.Holds {
				held++
			}
		}
		law := float64(c) / math.Hypot(float64(c), sigma)
		Expect(sum / times).To(BeNumerically("~", law, 5/math.Sqrt(n*times)+1.0/(2*n)))
		// Away from the threshold every single screen is judged right.
		if law > checks.DefaultScore+0.05 {
			Expect(held).To(Equal(times))
		}
		if law < checks.DefaultScore-0.1 {
			Expect(held).To(BeZero())
		}
	},
		Entry(nil, 60, 5.0), Entry(nil, 60, 10.0), Entry(nil, 70, 20.0), Entry(nil, 50, 20.0),
		Entry(nil, 42, 20.0), Entry(nil, 20, 20.0), Entry(nil, 25, 20.0),
	)

	It("lies where doc.go says it does", func() {
		// c = 2.07 sigma is the contrast at which the law gives the default.
		Expect(2.07 / math.Hypot(2.07, 1)).To(BeNumerically("~", checks.DefaultScore, 0.001))
	})

	It("finds a template among noise at the right place", func() {
		r := rand.New(rand.NewPCG(3, 3))
		pic := scene(4)
		tpl, err := pic.Crop(image.Rect(40, 176, 56, 192))
		Expect(err).NotTo(HaveOccurred())
		t, err := vision.NewTemplate(tpl, nil)
		Expect(err).NotTo(HaveOccurred())
		check := checks.NewShows(t, nil, checks.DefaultScore)
		for range 20 {
			sight, err := check.Look(noisy(pic, 20, r))
			Expect(err).NotTo(HaveOccurred())
			Expect(sight.Holds).To(BeTrue(), sight.Why)
			Expect(sight.At).To(Equal(image.Pt(40, 176)))
		}
	})
})
