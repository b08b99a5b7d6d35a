package clock

import (
	"math"
	"math/rand/v2"
	"slices"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// The truth here is the row that the stamps were made from.
var _ = Describe("stamps that are strewn in a short run", func() {
	const n, runs = 155, 12
	late := func(most float64) func(*rand.Rand) float64 {
		return func(r *rand.Rand) float64 {
			u := r.Float64()
			return 60e-6*r.NormFloat64() + most*u*u
		}
	}
	DescribeTable("bound their instants, and closely",
		func(law func(*rand.Rand) float64, middle float64) {
			var bounds []float64
			for seed := range uint64(runs) {
				r := rand.New(rand.NewPCG(seed, 5))
				period := 1001.0 / 60000 * (1 + 30e-6*r.NormFloat64())
				var truth []float64
				var stamps []time.Duration
				last := math.Inf(-1)
				for i := range n {
					at := 1 + float64(i)*period
					last = max(last, at+law(r))
					truth = append(truth, at-1)
					stamps = append(stamps, time.Duration(last*1e9))
				}
				row, err := dejitter(stamps, 60000.0/1001)
				Expect(err).NotTo(HaveOccurred())
				zero := stamps[0].Seconds() - 1
				for i, at := range truth {
					Expect(math.Abs(row.instants[i]+zero-at)).To(BeNumerically("<", row.doubt(i)), "seed %d, picture %d", seed, i)
				}
				bounds = append(bounds, row.doubt(n/2))
			}
			slices.Sort(bounds)
			// Before the laws were told apart the bounds were 3.7, 2.3, 3.8 and 5.8 ms.
			Expect(bounds[runs/2]).To(BeNumerically("<", middle))
		},
		Entry("normal, 5 ms", func(r *rand.Rand) float64 { return 5e-3 * r.NormFloat64() }, 2.6e-3),
		Entry("late by up to 4 ms", late(4e-3), 1e-3),
		Entry("late by up to 6 ms", late(6e-3), 1e-3),
		Entry("late by up to 8 ms", late(8e-3), 1.2e-3),
	)

	It("are not taken for late ones when they are even, whatever their law", func() {
		for seed := range uint64(runs) {
			r := rand.New(rand.NewPCG(seed, 6))
			v := make([]float64, n)
			for i := range v {
				v[i] = []float64{3e-3 * r.NormFloat64(), 8e-3 * (r.Float64() - 0.5)}[seed%2]
			}
			slices.Sort(v)
			s := binned(v)
			even := seek(s, v[n/8], v[n-n/8], false, (v[n-1]-v[0])/2, math.Inf(-1))
			late := seek(s, v[0], v[n*6/10], true, v[n-1]-v[0], math.Inf(-1))
			Expect(late.law.lik-even.law.lik).To(BeNumerically("<", lopsided), "seed %d", seed)
		}
	})

	It("give a law up only when it cannot become likely enough", func() {
		r := rand.New(rand.NewPCG(1, 7))
		v := make([]float64, n)
		for i := range v {
			u := r.Float64()
			v[i] = 100e-6*r.NormFloat64() + 5e-3*u*u
		}
		v[0] = -20e-3 // fits nothing
		slices.Sort(v)
		s := binned(v)
		given := 0
		for _, c := range []float64{-2e-3, 0, 0.3e-3, 2e-3} {
			for _, sigma := range []float64{20e-6, 100e-6, 1e-3} {
				for _, late := range []bool{false, true} {
					whole := fitLaw(s, c, late, 6e-3, sigma, math.Inf(-1)).lik
					Expect(fitLaw(s, c, late, 6e-3, sigma, whole-0.01).lik).To(Equal(whole))
					part := fitLaw(s, c, late, 6e-3, sigma, whole+50).lik
					Expect(part).To(And(BeNumerically(">=", whole), BeNumerically("<", whole+50)))
					if part > whole {
						given++
					}
				}
			}
		}
		Expect(given).To(BeNumerically(">=", 12))
	})

	It("blur by the normal law", func() { // held against math.Erfc
		for z := -8.0; z <= 8; z += 0.0123 {
			Expect(normal(z)).To(BeNumerically("~", math.Erfc(-z/math.Sqrt2)/2, 2e-12), "at %v", z)
		}
		Expect(normal(math.NaN())).To(BeZero())
	})
})
