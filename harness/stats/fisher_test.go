package stats

import (
	"math"
	"math/big"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("FisherExact", func() {
	// Source: the first three rows are R. A. Fisher, The Design of Experiments,
	// 1935, chapter 2 (lady tasting tea: 1/70, 16/70, 36/70, 16/70, 1/70 for
	// 0..4 right cups); the others R fisher.test and scipy.stats.fisher_exact.
	DescribeTable("gives the published values",
		func(a, b, c, d int64, less, greater, two float64) {
			r, err := FisherExact(a, a+b, c, c+d)
			Expect(err).NotTo(HaveOccurred())
			Expect(r.Greater).To(BeNumerically("~", greater, 6e-13))
			if less >= 0 {
				Expect(r.Less).To(BeNumerically("~", less, 6e-13))
			}
			Expect(r.TwoSided).To(BeNumerically("~", two, 6e-13))
			// The transposed table is the same test.
			tr, err := FisherExact(a, a+c, b, b+d)
			Expect(err).NotTo(HaveOccurred())
			Expect(tr.Greater).To(BeNumerically("~", r.Greater, 1e-14))
			Expect(tr.TwoSided).To(BeNumerically("~", r.TwoSided, 1e-14))
			Expect(tr.OddsRatio).To(Equal(r.OddsRatio))
		},
		Entry("three of four cups", int64(3), int64(1), int64(1), int64(3), 69./70, 17./70, 34./70),
		Entry("four of four cups", int64(4), int64(0), int64(0), int64(4), 1.0, 1./70, 2./70),
		Entry("two of four cups", int64(2), int64(2), int64(2), int64(2), 53./70, 53./70, 1.0),
		Entry("ten of ten", int64(10), int64(0), int64(0), int64(10), 1.0, 1./184756, 2./184756),
		Entry(nil, int64(10), int64(0), int64(3), int64(7), -1.0, 0.001547987616, 0.003095975232),
		Entry(nil, int64(1), int64(9), int64(11), int64(3), 0.001379728093, 0.999966348095, 0.002759456185),
		Entry("not twice one-sided", int64(8), int64(2), int64(1), int64(5), -1.0, 0.024475524476, 0.034965034965),
	)

	It("agrees with whole-number arithmetic on every small table", func() {
		choose := func(n, k int64) *big.Int { return new(big.Int).Binomial(n, k) }
		for n1 := int64(0); n1 <= 9; n1++ {
			for n0 := int64(0); n0 <= 9; n0++ {
				for k1 := int64(0); k1 <= n1; k1++ {
					for k0 := int64(0); k0 <= n0; k0++ {
						less, greater, two := new(big.Int), new(big.Int), new(big.Int)
						seen := new(big.Int).Mul(choose(n1, k1), choose(n0, k0))
						for x := max(0, k1+k0-n0); x <= min(n1, k1+k0); x++ {
							w := new(big.Int).Mul(choose(n1, x), choose(n0, k1+k0-x))
							if x <= k1 {
								less.Add(less, w)
							}
							if x >= k1 {
								greater.Add(greater, w)
							}
							if w.Cmp(seen) <= 0 {
								two.Add(two, w)
							}
						}
						share := func(w *big.Int) float64 {
							f, _ := new(big.Rat).SetFrac(w, choose(n1+n0, k1+k0)).Float64()
							return f
						}
						r, err := FisherExact(k1, n1, k0, n0)
						Expect(err).NotTo(HaveOccurred())
						Expect(r.Less).To(BeNumerically("~", share(less), 1e-13))
						Expect(r.Greater).To(BeNumerically("~", share(greater), 1e-13))
						Expect(r.TwoSided).To(BeNumerically("~", share(two), 1e-13))
					}
				}
			}
		}
	})

	// Source: 40-digit sums by mpmath 1.2.1; scipy.stats.fisher_exact 1.10.1
	// agrees to 9 digits.
	DescribeTable("keeps its digits for large counts",
		func(k1, n1, k0, n0 int64, greater, two float64) {
			r, err := FisherExact(k1, n1, k0, n0)
			Expect(err).NotTo(HaveOccurred())
			Expect(r.Greater / greater).To(BeNumerically("~", 1, 1e-11))
			Expect(r.TwoSided / two).To(BeNumerically("~", 1, 1e-11))
			swapped, err := FisherExact(k0, n0, k1, n1)
			Expect(err).NotTo(HaveOccurred())
			Expect(swapped.Less / greater).To(BeNumerically("~", 1, 1e-11))
		},
		Entry(nil, int64(500300), int64(1e6), int64(499700), int64(1e6), 0.198465815205779, 0.396931630411558),
		Entry(nil, int64(520), int64(1e6), int64(430), int64(1e6), 0.00192564907037865, 0.00385129814075731),
		Entry(nil, int64(12), int64(1e6), int64(0), int64(1e6), 0.000244132568445984, 0.000488265136891967),
		Entry(nil, int64(1200), int64(2000), int64(800), int64(2000), 4.94510657605924e-37, 9.89021315211848e-37),
		Entry(nil, int64(600000), int64(1e6), int64(590000), int64(1e6), 2.46906389157148e-47, 4.93812778314296e-47),
	)

	It("gives 0, not nonsense, for a split beyond the range of numbers", func() {
		r, err := FisherExact(1e6, 1e6, 0, 1e6)
		Expect(err).NotTo(HaveOccurred())
		Expect([]float64{r.Less, r.Greater, r.TwoSided}).To(Equal([]float64{1, 0, 0}))
	})

	It("says nothing of no trials, of no event and of nothing but events", func() {
		for _, k := range [][4]int64{{0, 0, 0, 0}, {0, 0, 3, 9}, {3, 9, 0, 0}, {0, 300, 0, 400}, {300, 300, 400, 400}} {
			r, err := FisherExact(k[0], k[1], k[2], k[3])
			Expect(err).NotTo(HaveOccurred())
			Expect([]float64{r.Less, r.Greater, r.TwoSided}).To(Equal([]float64{1, 1, 1}), "%v", k)
			Expect(math.IsNaN(r.OddsRatio)).To(BeTrue())
		}
		r, err := FisherExact(3, 5, 0, 5)
		Expect(err).NotTo(HaveOccurred())
		Expect(math.IsInf(r.OddsRatio, 1)).To(BeTrue())
		r, err = FisherExact(3, 5, 2, 5)
		Expect(err).NotTo(HaveOccurred())
		Expect(r.OddsRatio).To(Equal(9. / 4))
	})

	It("refuses counts that are none", func() {
		for _, k := range [][4]int64{{2, 1, 0, 1}, {0, 1, 2, 1}, {-1, 1, 0, 1}, {0, 1, 0, -1}, {0, 1 << 41, 0, 1}} {
			_, err := FisherExact(k[0], k[1], k[2], k[3])
			Expect(err).To(MatchError(ErrRange))
		}
	})
})
