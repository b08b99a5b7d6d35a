package lockstep_test

import (
	"fmt"
	"os/exec"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/lockstep"
)

var _ = Describe("thresholds", func() {
	// Upper standard normal quantiles. Source of the method: NIST/SEMATECH
	// e-Handbook of Statistical Methods, 1.3.6; the digits were computed with
	// R 4.2.2 (qnorm), scipy 1.10.1 (norm.isf) and mpmath 1.2.1 at 40 digits,
	// which agree.
	DescribeTable("the normal quantile, two-sided",
		func(p float64, n int, want float64) {
			Expect(lockstep.NormalThreshold(p, n)).To(BeNumerically("~", want, 1e-10))
		},
		Entry("1e-6 over 960 blocks", 1e-6, 960, 6.102891333072428),
		Entry("1e-6 over 960 blocks, by halves one-sided", 2e-6, 960, 5.991172641576757),
		Entry("5 %", 0.05, 1, 1.959963984540),
		Entry("1 %", 0.01, 1, 2.575829303549),
		Entry("1e-6", 1e-6, 1, 4.891638475699),
		Entry("2e-9", 2e-9, 1, 5.997807015008),
	)

	// Upper chi-square quantiles, from R 4.2.2 (qchisq), scipy 1.10.1
	// (chi2.isf) and mpmath 1.2.1, which agree. For 2 degrees of freedom it is
	// -2 ln p.
	DescribeTable("the chi-square quantile",
		func(p float64, n, df int, want float64) {
			Expect(lockstep.ChiSquareThreshold(p, n, df)).To(BeNumerically("~", want, 1e-9))
		},
		Entry("2 at 1e-6/960", 1e-6, 960, 2, 41.364887684852),
		Entry("8 at 1e-6/960", 1e-6, 960, 8, 58.216964168411),
		Entry("16 at 1e-6/960", 1e-6, 960, 16, 75.554668760413),
		Entry("64 at 1e-6/960", 1e-6, 960, 64, 156.463747423448),
		Entry("192 at 1e-6/960", 1e-6, 960, 192, 333.548146416814),
		Entry("4 at 1e-9 over 7680 tests (scipy 1.10.1 alone)", 1e-9, 7680, 4, 66.40384503920028),
		Entry("2 at 5 %", 0.05, 1, 2, 5.9914645471),
		Entry("8 at 1 %", 0.01, 1, 8, 20.0902350297),
		Entry("16 at 1e-6", 1e-6, 1, 16, 58.3243900144),
	)

	It("refuses odd degrees of freedom, for which the closed form does not hold", func() {
		Expect(func() { lockstep.ChiSquareThreshold(0.05, 1, 3) }).To(Panic())
	})
})

var _ = Describe("extreme values", func() {
	// scipy 1.10.1, /usr/bin/python3, live when it is installed:
	//   from scipy.stats import norm, t
	//   s = -math.expm1(math.log1p(-1e-6)/960); norm.isf(s)  # 5.991172560358845
	//   [t.isf(1e-9, n-1)*math.sqrt(1+1/n) for n in (8, 16, 64)]
	It("leave Bonferroni's bound a hair above the exact quantile of the greatest of 960", func() {
		// Exact, one-sided: the greatest of 960 normals passes it with 1e-6.
		const exact = 5.991172560358845
		bound := lockstep.NormalThreshold(2e-6, 960)
		Expect(bound).To(BeNumerically(">", exact))
		Expect(bound - exact).To(BeNumerically("<", 1e-6))
	})

	DescribeTable("the limit of the next value of a sample of n",
		func(n int, want float64) {
			Expect(lockstep.Predict(n)).To(BeNumerically("~", want, 1e-6*want))
			if _, err := exec.LookPath("/usr/bin/python3"); err != nil {
				return
			}
			out, err := exec.Command("/usr/bin/python3", "-c", fmt.Sprintf(
				"import math\nfrom scipy.stats import t\nprint(repr(float(t.isf(1e-9,%d)*math.sqrt(1+1/%d))))", n-1, n)).Output()
			if err != nil {
				return // scipy is not installed
			}
			var live float64
			_, err = fmt.Sscan(string(out), &live)
			Expect(err).NotTo(HaveOccurred())
			Expect(lockstep.Predict(n)).To(BeNumerically("~", live, 1e-6*live))
		},
		Entry("8", 8, 41.053892077956476),
		Entry("16", 16, 13.083370102635197),
		Entry("64", 64, 7.054286391386974),
	)
})
