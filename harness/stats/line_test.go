package stats

import (
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// Source: NIST Statistical Reference Datasets, linear least squares, dataset
// Norris (ozone monitor calibration), 36 observations.
var norrisX = []float64{
	0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0, 447.5, 11.6,
	556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
}
var norrisY = []float64{
	0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3, 448.9, 10.8,
	557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
}

var _ = Describe("straight lines", func() {
	It("least squares gives the certified values of Norris", func() {
		slope, intercept, err := LeastSquares(norrisX, norrisY)
		Expect(err).NotTo(HaveOccurred())
		Expect(slope).To(BeNumerically("~", 1.00211681802045, 1e-13))
		Expect(intercept).To(BeNumerically("~", -0.262323073774029, 1e-11))
	})

	// Source: Sen 1968, worked example; the rest by scipy.stats.theilslopes
	// with method="separate".
	DescribeTable("Theil-Sen",
		func(x, y []float64, slope, intercept float64) {
			s, i, err := TheilSen(x, y)
			Expect(err).NotTo(HaveOccurred())
			Expect(s).To(BeNumerically("~", slope, 1e-12))
			Expect(i).To(BeNumerically("~", intercept, 1e-11))
		},
		Entry("Sen's example", []float64{1, 2, 3, 4, 10, 12, 18}, []float64{9, 15, 19, 20, 45, 55, 78}, 4.0, 4.0),
		Entry("one bad point", []float64{0, 1, 2, 3, 4, 5, 6}, []float64{0, 1, 2, 3, 4, 5, 60}, 1.0, 0.0),
		Entry("an even number of slopes", []float64{1, 2, 3, 4, 5}, []float64{1, 3, 2, 5, 40}, 2.5, -4.5),
		Entry("an even number of points", []float64{0, 1, 2, 3, 4, 5, 6, 7, 8, 9},
			[]float64{0.1, 1.9, 4.2, 5.8, 8.1, 30, 12.0, 13.9, 16.2, 17.8}, 1.9875, 1.10625),
		Entry("Norris", norrisX, norrisY, 1.002196836555421, -0.064015817223),
	)

	It("leaves out pairs with equal x and is not thrown by their order", func() {
		s, i, err := TheilSen([]float64{3, 1, 1, 2}, []float64{7, 3, 3, 5})
		Expect(err).NotTo(HaveOccurred())
		Expect([]float64{s, i}).To(Equal([]float64{2, 1}))
	})

	It("refuses what is no line", func() {
		for _, f := range []func(x, y []float64) (float64, float64, error){LeastSquares, TheilSen} {
			for _, p := range [][2][]float64{{nil, nil}, {{1}, {1}}, {{2, 2, 2}, {1, 2, 3}}, {{1, 2}, {1}}} {
				_, _, err := f(p[0], p[1])
				Expect(err).To(MatchError(ErrRange))
			}
		}
	})

	// Source: scipy.stats.theilslopes 1.10.1 (Sen's example is his own, 1968).
	DescribeTable("confidence limits of the slope",
		func(x, y []float64, confidence, low, high float64) {
			l, h, err := TheilSenLimits(x, y, confidence)
			Expect(err).NotTo(HaveOccurred())
			Expect(l).To(BeNumerically("~", low, 1e-11))
			Expect(h).To(BeNumerically("~", high, 1e-11))
		},
		Entry("Sen's example", []float64{1, 2, 3, 4, 10, 12, 18}, []float64{9, 15, 19, 20, 45, 55, 78}, 0.93, 26./7, 35./8),
		Entry("Sen's example, 95 %", []float64{1, 2, 3, 4, 10, 12, 18}, []float64{9, 15, 19, 20, 45, 55, 78}, 0.95, 26./7, 35./8),
		Entry("one bad point", []float64{0, 1, 2, 3, 4, 5, 6}, []float64{0, 1, 2, 3, 4, 5, 60}, 0.95, 1.0, 14.5),
		Entry("few points", []float64{1, 2, 3, 4, 5}, []float64{1, 3, 2, 5, 40}, 0.95, -1.0, 35.0),
		Entry("an even number of points", []float64{0, 1, 2, 3, 4, 5, 6, 7, 8, 9},
			[]float64{0.1, 1.9, 4.2, 5.8, 8.1, 30, 12.0, 13.9, 16.2, 17.8}, 0.95, 1.94, 2.066666666667),
		Entry("Norris, with ties", norrisX, norrisY, 0.95, 1.001115324559, 1.003053435115),
	)

	It("refuses limits of no line and of no confidence", func() {
		_, _, err := TheilSenLimits([]float64{1}, []float64{1}, 0.95)
		Expect(err).To(MatchError(ErrRange))
		_, _, err = TheilSenLimits([]float64{1, 2}, []float64{1, 2}, 1)
		Expect(err).To(MatchError(ErrRange))
	})

	It("medians", func() {
		Expect(Median([]float64{3, 1, 2})).To(Equal(2.0))
		Expect(Median([]float64{4, 1, 3, 2})).To(Equal(2.5))
		Expect(math.IsNaN(Median(nil))).To(BeTrue())
	})
})
