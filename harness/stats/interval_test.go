package stats

import (
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"gonum.org/v1/gonum/stat/combin"
)

// Source: Clopper-Pearson limits as given by scipy.stats.binomtest, statsmodels
// proportion_confint and R binom.test; Wilson limits as given by the same two
// Python packages and R prop.test(correct = FALSE); all agree to the digits
// printed.
var intervalTable = []struct {
	k, n            int64
	confidence      float64
	cpLow, cpHigh   float64
	wilLow, wilHigh float64
}{
	{0, 1, 0.95, 0.000000000000, 0.975000000000, 0.000000000000, 0.793450685623},
	{0, 3, 0.95, 0.000000000000, 0.707598226179, 0.000000000000, 0.561497031755},
	{0, 10, 0.95, 0.000000000000, 0.308497107819, 0.000000000000, 0.277532799863},
	{0, 20, 0.95, 0.000000000000, 0.168433470983, 0.000000000000, 0.161125158053},
	{0, 30, 0.95, 0.000000000000, 0.115703308222, 0.000000000000, 0.113513393174},
	{0, 60, 0.95, 0.000000000000, 0.059629492286, 0.000000000000, 0.060171852142},
	{0, 100, 0.95, 0.000000000000, 0.036216692645, 0.000000000000, 0.036993498207},
	{0, 1000, 0.95, 0.000000000000, 0.003682083897, 0.000000000000, 0.003826758486},
	{1, 10, 0.95, 0.002528578544, 0.445016117028, 0.017876213095, 0.404150026795},
	{1, 20, 0.95, 0.001265089498, 0.248732762772, 0.008881448801, 0.236131193447},
	{1, 100, 0.95, 0.000253146033, 0.054459385392, 0.001767432064, 0.054486196179},
	{2, 10, 0.95, 0.025210726327, 0.556095462308, 0.056682151454, 0.509837528463},
	{4, 20, 0.95, 0.057333997050, 0.436614002997, 0.080657662580, 0.416017432252},
	{5, 10, 0.95, 0.187086028447, 0.812913971553, 0.236593090513, 0.763406909487},
	{9, 10, 0.95, 0.554983882972, 0.997471421456, 0.595849973205, 0.982123786905},
	{10, 10, 0.95, 0.691502892181, 1.000000000000, 0.722467200137, 1.000000000000},
	{19, 20, 0.95, 0.751267237228, 0.998734910502, 0.763868806553, 0.991118551199},
	{20, 20, 0.95, 0.831566529017, 1.000000000000, 0.838874841947, 1.000000000000},
	{26, 200, 0.95, 0.086708352769, 0.184652330523, 0.090282022797, 0.183663518722},
	{29, 30, 0.95, 0.827830544367, 0.999156429073, 0.833296090086, 0.994091409618},
	{30, 30, 0.95, 0.884296691778, 1.000000000000, 0.886486606826, 1.000000000000},
	{99, 100, 0.95, 0.945540614608, 0.999746853967, 0.945513803821, 0.998232567936},
	{100, 100, 0.95, 0.963783307355, 1.000000000000, 0.963006501793, 1.000000000000},
	{0, 20, 0.90, 0.000000000000, 0.139108340668, 0.000000000000, 0.119157837361},
	{4, 20, 0.90, 0.071353884309, 0.401028117332, 0.093118016581, 0.378376685835},
	{9, 10, 0.90, 0.605836697563, 0.994883803108, 0.652281332664, 0.977365091269},
	{10, 10, 0.90, 0.741134449107, 1.000000000000, 0.787058029917, 1.000000000000},
	{26, 200, 0.90, 0.092712675363, 0.175771367232, 0.095772748211, 0.174104150674},
	{0, 20, 0.99, 0.000000000000, 0.232729500989, 0.000000000000, 0.249105401099},
	{4, 20, 0.99, 0.035756168349, 0.506608849009, 0.061561080027, 0.487902160632},
	{9, 10, 0.99, 0.455712943100, 0.999498871425, 0.492768228767, 0.988148496589},
	{10, 10, 0.99, 0.588704018652, 1.000000000000, 0.601145906695, 1.000000000000},
	{26, 200, 0.99, 0.075695668007, 0.202628394253, 0.080458093654, 0.203302769422},
}

var _ = Describe("intervals for a rate", func() {
	It("agree with other software", func() {
		for _, row := range intervalTable {
			cp, err := ClopperPearson(row.k, row.n, row.confidence)
			Expect(err).NotTo(HaveOccurred())
			Expect(cp.Low).To(BeNumerically("~", row.cpLow, 1e-12), "%+v", row)
			Expect(cp.High).To(BeNumerically("~", row.cpHigh, 1e-12), "%+v", row)
			w, err := Wilson(row.k, row.n, row.confidence)
			Expect(err).NotTo(HaveOccurred())
			Expect(w.Low).To(BeNumerically("~", row.wilLow, 1e-12), "%+v", row)
			Expect(w.High).To(BeNumerically("~", row.wilHigh, 1e-12), "%+v", row)
		}
	})

	// Source: NIST/SEMATECH e-Handbook of Statistical Methods, section 7.2.4.1.
	// It prints 0.401029 for the upper exact limit, which misses the root of
	// the binomial sum in the sixth decimal, hence 2e-6.
	It("agree with the worked examples of the e-Handbook", func() {
		Expect(wilson(26, 200, 1.645).Low).To(BeNumerically("~", 0.09577, 5e-6))
		one, err := Wilson(26, 200, 0.90) // the one-sided 95 % limit
		Expect(err).NotTo(HaveOccurred())
		Expect(one.Low).To(BeNumerically("~", 0.09577, 5e-6))
		cp, err := ClopperPearson(4, 20, 0.90)
		Expect(err).NotTo(HaveOccurred())
		Expect(cp.Low).To(BeNumerically("~", 0.071354, 5e-7))
		Expect(cp.High).To(BeNumerically("~", 0.401029, 2e-6))
	})

	// The limits are defined by the binomial sums (Clopper and Pearson 1934):
	// P(X >= k | low) = P(X <= k | high) = half of 1-confidence.
	It("solve the binomial sums that define the exact limits", func() {
		sum := func(from, to, n int, p float64) (s float64) {
			for i := from; i <= to; i++ {
				s += float64(combin.Binomial(n, i)) * math.Pow(p, float64(i)) * math.Pow(1-p, float64(n-i))
			}
			return s
		}
		for n := 1; n <= 40; n++ {
			for k := 0; k <= n; k++ {
				cp, err := ClopperPearson(int64(k), int64(n), 0.9)
				Expect(err).NotTo(HaveOccurred())
				if k > 0 {
					Expect(sum(k, n, n, cp.Low)).To(BeNumerically("~", 0.05, 1e-10), "%d of %d", k, n)
				}
				if k < n {
					Expect(sum(0, k, n, cp.High)).To(BeNumerically("~", 0.05, 1e-10), "%d of %d", k, n)
				}
			}
		}
	})

	It("mirror: the limits for n-k are one less those for k", func() {
		for _, f := range []func(k, n int64, c float64) (Interval, error){ClopperPearson, Wilson} {
			for k := int64(0); k <= 50; k++ {
				a, err := f(k, 50, 0.95)
				Expect(err).NotTo(HaveOccurred())
				b, err := f(50-k, 50, 0.95)
				Expect(err).NotTo(HaveOccurred())
				Expect(a.Low).To(BeNumerically("~", 1-b.High, 1e-13))
				Expect(a.High).To(BeNumerically("~", 1-b.Low, 1e-13))
				Expect(a.Low).To(BeNumerically("<=", float64(k)/50))
				Expect(a.High).To(BeNumerically(">=", float64(k)/50))
			}
		}
	})

	It("end exactly at 0 and 1, and say nothing about no trials", func() {
		for _, f := range []func(k, n int64, c float64) (Interval, error){ClopperPearson, Wilson} {
			for _, n := range []int64{1, 7, 1e6, 1e12} {
				none, err := f(0, n, 0.95)
				Expect(err).NotTo(HaveOccurred())
				Expect(none.Low).To(BeZero())
				Expect(none.High).To(And(BeNumerically(">", 0), BeNumerically("<", 1)))
				all, err := f(n, n, 0.95)
				Expect(err).NotTo(HaveOccurred())
				Expect(all.High).To(Equal(1.0))
				Expect(all.Low).To(And(BeNumerically(">", 0), BeNumerically("<", 1)))
			}
			Expect(f(0, 0, 0.95)).To(Equal(Interval{0, 1}))
		}
	})

	DescribeTable("refuse what has no interval",
		func(k, n int64, c float64, text string) {
			for _, f := range []func(k, n int64, c float64) (Interval, error){ClopperPearson, Wilson} {
				_, err := f(k, n, c)
				Expect(err).To(MatchError(ErrRange))
				Expect(err).To(MatchError(text))
			}
		},
		Entry(nil, int64(3), int64(2), 0.95, "stats: out of range: 3 of 2 trials"),
		Entry(nil, int64(-1), int64(2), 0.95, "stats: out of range: -1 of 2 trials"),
		Entry(nil, int64(0), int64(-2), 0.95, "stats: out of range: -2 trials"),
		Entry(nil, int64(0), int64(2), 0.0, "stats: out of range: confidence 0 is not between 0 and 1"),
		Entry(nil, int64(0), int64(2), 1.0, "stats: out of range: confidence 1 is not between 0 and 1"),
		Entry(nil, int64(0), int64(2), math.NaN(), "stats: out of range: confidence NaN is not between 0 and 1"),
	)
})
