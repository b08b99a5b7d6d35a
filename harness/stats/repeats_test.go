package stats

import (
	"math"
	"math/big"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// Source: 1-0.05^(1/n) and 1-0.025^(1/n) by Python's math module and
// scipy.stats.binomtest.
var noFailures = []struct {
	n                    int64
	oneSided, cpTwoSided float64
}{
	{1, 0.950000000000, 0.975000000000},
	{3, 0.631596850136, 0.707598226179},
	{10, 0.258865550893, 0.308497107819},
	{20, 0.139108340668, 0.168433470983},
	{30, 0.095033852855, 0.115703308222},
	{59, 0.049507609888, 0.060608900950},
	{60, 0.048702913310, 0.059629492286},
	{100, 0.029513049607, 0.036216692645},
	{299, 0.009969146793, 0.012261595908},
	{300, 0.009936081944, 0.012220974694},
	{1000, 0.002991249545, 0.003682083897},
	{3000, 0.000998079012, 0.001228870804},
}

var _ = Describe("no failures in n repeats", func() {
	It("bounds the rate as the closed form says", func() {
		for _, row := range noFailures {
			Expect(UpperLimit(row.n, 0.95)).To(BeNumerically("~", row.oneSided, 1e-12))
			cp, err := ClopperPearson(0, row.n, 0.95)
			Expect(err).NotTo(HaveOccurred())
			Expect(cp.High).To(BeNumerically("~", row.cpTwoSided, 1e-12))
		}
		Expect(UpperLimit(0, 0.95)).To(Equal(1.0))
	})

	// Source: smallest n with (1-rate)^n <= 0.05; Hanley and Lippman-Hand,
	// JAMA 249:1743-1745, 1983, whose approximation is 3/n.
	DescribeTable("repeats needed",
		func(below, confidence float64, want int64) {
			Expect(RepeatsNeeded(below, confidence)).To(Equal(want))
		},
		Entry(nil, 0.10, 0.95, int64(29)),
		Entry(nil, 0.05, 0.95, int64(59)),
		Entry(nil, 0.01, 0.95, int64(299)),
		Entry(nil, 0.001, 0.95, int64(2995)),
		Entry("one half is enough exactly", 0.5, 0.5, int64(1)),
		Entry("three halves exactly", 0.5, 0.875, int64(3)),
		Entry("a half of a half exactly", 0.75, 0.9375, int64(2)),
		Entry("at least one", 0.99, 0.01, int64(1)),
	)

	It("is the smallest count, by exact rational arithmetic", func() {
		holds := func(below, confidence float64, n int64) bool {
			left := new(big.Rat).SetInt64(1)
			q := new(big.Rat).Sub(big.NewRat(1, 1), new(big.Rat).SetFloat64(below))
			for range n {
				left.Mul(left, q)
			}
			return left.Cmp(new(big.Rat).Sub(big.NewRat(1, 1), new(big.Rat).SetFloat64(confidence))) <= 0
		}
		for _, below := range []float64{0.5, 0.25, 0.125, 0.3, 0.07, 0.02} {
			for _, confidence := range []float64{0.5, 0.75, 0.875, 0.9, 0.95, 0.99} {
				n, err := RepeatsNeeded(below, confidence)
				Expect(err).NotTo(HaveOccurred())
				Expect(holds(below, confidence, n)).To(BeTrue(), "%v %v %d", below, confidence, n)
				if n > 1 {
					Expect(holds(below, confidence, n-1)).To(BeFalse(), "%v %v %d", below, confidence, n)
				}
			}
		}
	})

	DescribeTable("refuses",
		func(below, confidence float64) {
			_, err := RepeatsNeeded(below, confidence)
			Expect(err).To(MatchError(ErrRange))
		},
		Entry("rate 0", 0.0, 0.95),
		Entry("rate 1", 1.0, 0.95),
		Entry("rate NaN", math.NaN(), 0.95),
		Entry("confidence 0", 0.01, 0.0),
		Entry("confidence 1", 0.01, 1.0),
		Entry("uncountable", 1e-300, 0.95),
	)

	It("refuses a limit for fewer than no repeats", func() {
		_, err := UpperLimit(-1, 0.95)
		Expect(err).To(MatchError(ErrRange))
	})
})
