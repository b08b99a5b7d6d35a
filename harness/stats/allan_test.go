package stats

import (
	"math"
	"math/rand/v2"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// phaseOf adds up fractional frequencies, tau0 = 1.
func phaseOf(frequency []float64) []float64 {
	x := make([]float64, len(frequency)+1)
	for i, y := range frequency {
		x[i+1] = x[i] + y
	}
	return x
}

// Source: W. J. Riley, Handbook of Frequency Stability Analysis, NIST Special
// Publication 1065, 2008, section 12.4: the nine-point set (NBS Monograph 140,
// annex 8.E) and the 1000-point set with its generator.
var ninePoints = phaseOf([]float64{892, 809, 823, 798, 671, 644, 883, 903, 677})

func thousandPoints() []float64 {
	n := int64(1234567890)
	var y []float64
	for range 1000 {
		y = append(y, float64(n)/2147483647)
		n = 16807 * n % 2147483647
	}
	return phaseOf(y)
}

// slowAllan and slowTime are the double sums as they are written.
func slowAllan(x []float64, m int) (float64, int) {
	var sum float64
	terms := 0
	for i := 0; i+2*m < len(x); i++ {
		if d := x[i+2*m] - 2*x[i+m] + x[i]; d == d {
			sum, terms = sum+d*d, terms+1
		}
	}
	return math.Sqrt(sum/2/float64(terms)) / float64(m), terms
}

func slowTime(x []float64, m int) (float64, int) {
	var sum float64
	terms := 0
	for j := 0; j+3*m <= len(x); j++ {
		inner := 0.0
		for i := j; i < j+m; i++ {
			inner += x[i+2*m] - 2*x[i+m] + x[i]
		}
		if inner == inner {
			sum, terms = sum+inner*inner/float64(m*m), terms+1
		}
	}
	return math.Sqrt(sum / 6 / float64(terms)), terms
}

var _ = Describe("Allan and time deviation", func() {
	// Source: SP 1065, tables 30 and 31, as several independent
	// transcriptions have them (the first numbers, seven digits, some of them
	// truncated: hence 3.5e-7), and numpy 1.24.2 by the plain formulas (the
	// second, thirteen digits).
	DescribeTable("give the published values",
		func(f func([]float64, float64, int) (Stability, error), x []float64, m, terms int, printed, computed float64) {
			s, err := f(x, 1, m)
			Expect(err).NotTo(HaveOccurred())
			Expect(s.Value / printed).To(BeNumerically("~", 1, 3.5e-7))
			Expect(s.Value / computed).To(BeNumerically("~", 1, 2e-12))
			Expect([]any{s.Tau, s.Terms}).To(Equal([]any{float64(m), terms}))
		},
		Entry(nil, AllanDeviation, ninePoints, 1, 8, 91.22945, 9.122944974075e+01),
		Entry(nil, AllanDeviation, ninePoints, 2, 6, 85.95287, 8.595286983768e+01),
		Entry(nil, AllanDeviation, thousandPoints(), 1, 999, 2.922319e-01, 2.922318781068e-01),
		Entry(nil, AllanDeviation, thousandPoints(), 10, 981, 9.159953e-02, 9.159953420119e-02),
		Entry(nil, AllanDeviation, thousandPoints(), 100, 801, 3.241343e-02, 3.241343026057e-02),
		Entry(nil, TimeDeviation, ninePoints, 1, 8, 52.67135, 5.267134736584e+01),
		Entry(nil, TimeDeviation, ninePoints, 2, 5, 86.35831, 8.635831363183e+01),
		Entry(nil, TimeDeviation, thousandPoints(), 1, 999, 1.687202e-01, 1.687201534907e-01),
		Entry(nil, TimeDeviation, thousandPoints(), 10, 972, 3.563623e-01, 3.563623165948e-01),
		Entry(nil, TimeDeviation, thousandPoints(), 100, 702, 1.253382e+00, 1.253381773911e+00),
	)

	It("agree with the plain double sums, missing points and all", func() {
		rng := rand.New(rand.NewPCG(8, 1))
		for range 40 {
			x := make([]float64, 30+rng.IntN(300))
			for i := range x {
				if x[i] = rng.NormFloat64(); rng.IntN(40) == 0 {
					x[i] = math.NaN()
				}
			}
			for _, m := range Octaves(len(x)) {
				if want, terms := slowAllan(x, m); terms > 0 {
					s, err := AllanDeviation(x, 0.5, m)
					Expect(err).NotTo(HaveOccurred())
					Expect(s.Terms).To(Equal(terms))
					Expect(s.Value * 0.5 / want).To(BeNumerically("~", 1, 1e-12))
				}
				want, terms := slowTime(x, m)
				s, err := TimeDeviation(x, 0.5, m)
				if terms == 0 {
					Expect(err).To(MatchError(ErrRange))
					continue
				}
				Expect(err).NotTo(HaveOccurred())
				Expect(s.Terms).To(Equal(terms))
				Expect(s.Value).To(BeNumerically("~", want, 1e-12))
			}
		}
	})

	// Source: SP 1065, section 12.4, error bars of the 1000-point set at m =
	// 10: 146.177 degrees of freedom (from memory); the limits by the quantiles
	// of scipy.stats.chi2 1.10.1.
	It("have limits for white frequency noise", func() {
		x := thousandPoints()
		Expect(whiteFrequency(len(x), 10)).To(BeNumerically("~", 146.177, 5e-4))
		s, err := AllanDeviation(x, 1, 10)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Low).To(BeNumerically("~", 0.08219488784707, 1e-11))
		Expect(s.High).To(BeNumerically("~", 0.10345357210563, 1e-11))
		s, err = AllanDeviation(ninePoints, 1, 2)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Low).To(BeNumerically("~", 51.3102892056822, 1e-7))
		Expect(s.High).To(BeNumerically("~", 250.7860695680433, 1e-7))
		x[500] = math.NaN()
		s, err = AllanDeviation(x, 1, 10)
		Expect(err).NotTo(HaveOccurred())
		Expect([]float64{s.Low, s.High}).To(Equal([]float64{0, 0}))
	})

	// Source: under white frequency noise of variance 1 the Allan deviation is
	// 1/√m (SP 1065, section 3.3).
	It("hold the truth in 95 % of samples of white frequency noise", func() {
		rng := rand.New(rand.NewPCG(8, 2))
		for _, m := range []int{1, 8} {
			const samples = 500
			held := 0
			for range samples {
				y := make([]float64, 256)
				for i := range y {
					y[i] = rng.NormFloat64()
				}
				s, err := AllanDeviation(phaseOf(y), 1, m)
				Expect(err).NotTo(HaveOccurred())
				if want := 1 / math.Sqrt(float64(m)); s.Low <= want && want <= s.High {
					held++
				}
			}
			Expect(float64(held)/samples).To(BeNumerically("~", 0.95, binomialError(0.95, samples)), "m = %d", m)
		}
	})

	It("names the usable averages", func() {
		Expect(Octaves(2)).To(BeEmpty())
		Expect(Octaves(3)).To(Equal([]int{1}))
		Expect(Octaves(24)).To(Equal([]int{1, 2, 4, 8}))
		Expect(Octaves(23)).To(Equal([]int{1, 2, 4}))
		for n := 3; n < 100; n++ {
			for _, m := range Octaves(n) {
				_, err := AllanDeviation(make([]float64, n), 1, m)
				Expect(err).NotTo(HaveOccurred())
				_, err = TimeDeviation(make([]float64, n), 1, m)
				Expect(err).NotTo(HaveOccurred())
			}
		}
	})

	It("refuse what has no deviation", func() {
		for _, f := range []func([]float64, float64, int) (Stability, error){AllanDeviation, TimeDeviation} {
			for _, bad := range []struct {
				x    []float64
				tau0 float64
				m    int
			}{{nil, 1, 1}, {[]float64{1, 2}, 1, 1}, {ninePoints, 0, 1}, {ninePoints, math.NaN(), 1}, {ninePoints, 1, 0}, {ninePoints, 1, 5},
				{ninePoints, 1, math.MaxInt}, {[]float64{1, math.Inf(1), 2}, 1, 1}, {[]float64{1, math.NaN(), 2}, 1, 1}} {
				_, err := f(bad.x, bad.tau0, bad.m)
				Expect(err).To(MatchError(ErrRange))
			}
		}
	})
})
