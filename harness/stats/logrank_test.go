package stats

import (
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("LogRank", func() {
	// Source: R 4.2.2, survival 3.5-3, survdiff(Surv(time, event) ~ group) and
	// pchisq(..., 1, lower.tail = FALSE), on the data of survival_test.go; the
	// first chi-square is the 16.79 of D. G. Kleinbaum and M. Klein, Survival
	// Analysis: A Self-Learning Text, chapter 2 (from memory).
	DescribeTable("gives the published values",
		func(a, b []Lifetime, observed, expected [2]float64, variance, chi, p float64) {
			r, err := LogRank(a, b)
			Expect(err).NotTo(HaveOccurred())
			Expect(r.Observed).To(Equal(observed))
			for g := range expected {
				Expect(r.Expected[g]).To(BeNumerically("~", expected[g], 1e-11))
			}
			Expect(r.Variance).To(BeNumerically("~", variance, 1e-11))
			Expect(r.ChiSquare).To(BeNumerically("~", chi, 1e-11))
			Expect(r.Z * r.Z).To(BeNumerically("~", chi, 1e-11))
			Expect(r.P).To(BeNumerically("~", p, 1e-11*p+1e-13))
			Expect(r.Less + r.Greater).To(BeNumerically("~", 1, 1e-15))
			Expect(min(r.Less, r.Greater) * 2).To(Equal(r.P))
			back, err := LogRank(b, a)
			Expect(err).NotTo(HaveOccurred())
			Expect(back.Z).To(BeNumerically("~", -r.Z, 1e-12))
			Expect(back.Greater).To(BeNumerically("~", r.Less, 1e-12))
		},
		Entry("6-mercaptopurine and placebo", mercaptopurine, placebo, [2]float64{9, 21},
			[2]float64{19.250500948031, 10.749499051969}, 6.256960573675, 16.792940989217, 4.168809109335e-05),
		Entry("maintained and not", maintained, nonmaintained, [2]float64{7, 11},
			[2]float64{10.689335992301, 7.310664007699}, 4.007550745939, 3.396388698978, 0.065339322041),
	)

	It("says which group parts sooner", func() {
		r, err := LogRank(placebo, mercaptopurine)
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Z).To(BeNumerically(">", 4))
		Expect(r.Greater).To(BeNumerically("<", 3e-5))
		Expect(r.Less).To(BeNumerically(">", 0.999))
	})

	It("shows nothing where nothing can be compared", func() {
		for _, pair := range [][2][]Lifetime{{nil, nil}, {placebo, nil}, {nil, placebo}, {lives(-5, -6), lives(-7)},
			{lives(-1), lives(2, 3)}, {lives(4), lives(4)}, {lives(0, 0), lives(0)}} {
			r, err := LogRank(pair[0], pair[1])
			Expect(err).NotTo(HaveOccurred())
			Expect([]float64{r.Z, r.ChiSquare, r.P, r.Less, r.Greater}).To(Equal([]float64{0, 0, 1, 1, 1}))
		}
	})

	It("refuses times that are none", func() {
		for _, bad := range []float64{math.NaN(), math.Inf(1)} {
			_, err := LogRank(placebo, lives(bad))
			Expect(err).To(MatchError(ErrRange))
			_, err = LogRank(lives(bad), placebo)
			Expect(err).To(MatchError(ErrRange))
		}
	})
})
