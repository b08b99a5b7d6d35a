package stats

import (
	"math"
	"math/rand/v2"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("the critical values of a Brownian bridge", func() {
	// Source: over all times, the Kolmogorov distribution (scipy.stats.kstwobign
	// 1.10.1; 1.3581 and 1.6276 in every table). The others: numpy and scipy,
	// by double integration over where the bridge is at a and at b, with the
	// images of the walls instead of sines. 1.3211 for 0.1..0.6 also stands in
	// J. P. Klein and M. L. Moeschberger, Survival Analysis, section 4.4 (from
	// memory).
	DescribeTable("are the published ones",
		func(a, b, at90, at95, at99 float64) {
			for c, want := range map[float64]float64{0.90: at90, 0.95: at95, 0.99: at99} {
				Expect(bridgeCritical(c, a, b)).To(BeNumerically("~", want, 5e-9))
				// A bridge is the same backwards.
				Expect(bridgeCritical(c, 1-b, 1-a)).To(BeNumerically("~", want, 5e-9))
			}
		},
		Entry(nil, 0.0, 1.0, 1.2238478702, 1.3580986393, 1.6276236115),
		Entry(nil, 0.02, 0.98, 1.2238478702, 1.3580986393, 1.6276236115),
		Entry(nil, 0.1, 0.9, 1.2238076495, 1.3580888012, 1.6276232025),
		Entry(nil, 0.1, 0.6, 1.1812255868, 1.3210669389, 1.5995791987),
		Entry(nil, 0.3, 0.5, 1.1036848570, 1.2507562314, 1.5394758237),
		Entry(nil, 0.05, 0.3, 0.9596677020, 1.0868208216, 1.3418626151),
		Entry(nil, 0.4, 0.45, 0.9787364321, 1.1324956208, 1.4331227962),
		Entry(nil, 0.001, 0.5, 1.1333971775, 1.2730724815, 1.5519517876),
	)

	// The bridge itself, at 40 times from a to b, and the chance that it did
	// not leave between them: 1 - exp(-2(x-y)(x-z)/h) for either wall (both at
	// once is below 1e-30 here).
	It("are those of drawn bridges", func() {
		rng := rand.New(rand.NewPCG(10, 1))
		for _, span := range [][2]float64{{0, 1}, {0.1, 0.6}, {0, 0.2}, {0.5, 0.7}} {
			a, b := span[0], span[1]
			x := bridgeCritical(0.95, a, b)
			const draws, steps = 10_000, 40
			h := (b - a) / steps
			var within float64
			for range draws {
				y := rng.NormFloat64() * math.Sqrt(a*(1-a))
				chance := 1.0
				for i := 0; i < steps && chance > 0; i++ {
					now := a + float64(i)*h
					left := 1 - now
					z := 0.0
					if left-h > 1e-12 {
						z = y*(left-h)/left + rng.NormFloat64()*math.Sqrt(h*(left-h)/left)
					}
					if math.Abs(y) >= x || math.Abs(z) >= x {
						chance = 0
						break
					}
					chance *= (1 - math.Exp(-2*(x-y)*(x-z)/h)) * (1 - math.Exp(-2*(x+y)*(x+z)/h))
					y = z
				}
				within += chance
			}
			Expect(within/draws).To(BeNumerically("~", 0.95, binomialError(0.95, draws)), "%v", span)
		}
	})

	It("go over to the normal quantile for a short piece, and are never below it", func() {
		Expect(bridgeCritical(0.95, 0.3, 0.3)).To(BeNumerically("~", 1.959963984540054*math.Sqrt(0.21), 1e-12))
		for _, a := range []float64{1e-7, 0.2, 0.9999} {
			single := bridgeCritical(0.95, a, a)
			before := single
			for _, share := range []float64{1e-9, 1e-5, 1e-2, 0.1, 0.5} {
				k := bridgeCritical(0.95, a, a+share*(1-a)*min(1, 10*a))
				Expect(k).To(BeNumerically(">=", before*(1-1e-9)), "%v %v", a, share)
				if share < 1e-4 {
					Expect(k).To(BeNumerically("<", 1.05*single), "%v %v", a, share)
				}
				before = k
			}
		}
	})

	It("end for every confidence", func() {
		for _, c := range []float64{1e-9, 0.01, 0.5, 1 - 1e-6, 1 - 1e-10, 1 - 1e-12, math.Nextafter(1, 0)} {
			for _, span := range [][2]float64{{0, 1}, {1e-6, 2e-6}, {0.3, 0.4}, {0.99, 1}} {
				k := bridgeCritical(c, span[0], span[1])
				Expect(k).To(And(BeNumerically(">", 0), BeNumerically("<", 5)))
				if c > 1e-3 && c < 1-1e-11 && span[1] > 0.3 {
					Expect(bridgeWithin(k, span[0], span[1])).To(BeNumerically("~", c, 1e-9*c+1e-12), "%v %v", c, span)
				}
			}
		}
	})
})
