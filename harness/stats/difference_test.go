package stats

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("RateDifference", func() {
	// Source: R. G. Newcombe, Statistics in Medicine 17:873-890, 1998, table
	// II, method 10, which prints four digits (0.0524 to 0.3339 for the first
	// row; cited from memory). The further digits are the formula applied by
	// Python to the Wilson limits of scipy 1.10.1.
	DescribeTable("gives the published limits",
		func(k1, n1, k0, n0 int64, wantLow, wantHigh float64) {
			low, high, err := RateDifference(k1, n1, k0, n0, 0.95)
			Expect(err).NotTo(HaveOccurred())
			Expect(low).To(BeNumerically("~", wantLow, 1e-11))
			Expect(high).To(BeNumerically("~", wantHigh, 1e-11))
			// The other way round it is the same with the sign changed.
			l, h, err := RateDifference(k0, n0, k1, n1, 0.95)
			Expect(err).NotTo(HaveOccurred())
			Expect([]float64{-h, -l}).To(Equal([]float64{low, high}))
		},
		Entry(nil, int64(56), int64(70), int64(48), int64(80), 0.052431472402, 0.333872654037),
		Entry(nil, int64(9), int64(10), int64(3), int64(10), 0.170522723935, 0.809017973535),
		Entry(nil, int64(6), int64(7), int64(2), int64(7), 0.058227927482, 0.806249637524),
		Entry(nil, int64(5), int64(56), int64(0), int64(29), -0.038137147904, 0.192560013855),
		Entry(nil, int64(0), int64(10), int64(0), int64(20), -0.161125158053, 0.277532799863),
		Entry(nil, int64(0), int64(10), int64(0), int64(10), -0.277532799863, 0.277532799863),
		Entry(nil, int64(10), int64(10), int64(0), int64(20), 0.679086037142, 1.0),
		Entry(nil, int64(10), int64(10), int64(0), int64(10), 0.607509350431, 1.0),
	)

	It("knows nothing without trials and refuses what has no interval", func() {
		for _, k := range [][4]int64{{0, 0, 3, 9}, {3, 9, 0, 0}, {0, 0, 0, 0}} {
			low, high, err := RateDifference(k[0], k[1], k[2], k[3], 0.95)
			Expect(err).NotTo(HaveOccurred())
			Expect([]float64{low, high}).To(Equal([]float64{-1, 1}))
		}
		for _, k := range [][4]int64{{2, 1, 0, 1}, {0, 1, 2, 1}, {0, -1, 0, 1}} {
			_, _, err := RateDifference(k[0], k[1], k[2], k[3], 0.95)
			Expect(err).To(MatchError(ErrRange))
		}
		_, _, err := RateDifference(0, 1, 0, 1, 1)
		Expect(err).To(MatchError(ErrRange))
	})
})
