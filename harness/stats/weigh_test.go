package stats

import (
	"math"
	"math/rand/v2"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("Claim.Weigh", func() {
	// Source: RepeatsNeeded, (1-0.01)^299 <= 0.05 < (1-0.01)^298.
	It("proves by clean repeats alone at the fixed count", func() {
		for _, c := range []Claim{{0.01, 0.95}, {0.05, 0.95}, {0.1, 0.9}, {0.001, 0.95}, {0.01, 0.99}, {1e-5, 0.95}} {
			n, err := RepeatsNeeded(c.Below, c.Confidence)
			Expect(err).NotTo(HaveOccurred())
			w, err := c.weight()
			Expect(err).NotTo(HaveOccurred())
			if c.logFor(0, n, w) < -math.Log1p(-c.Confidence) {
				Expect(w).To(Equal(0.999), "%v", c)
				start, err := c.Weigh(0, 0)
				Expect(err).NotTo(HaveOccurred())
				Expect(start.CleanNeeded).To(And(BeNumerically(">", n), BeNumerically("<=", n+1+int64(0.001/c.Below))), "%v", c)
				n = start.CleanNeeded
			} else {
				Expect(w).To(BeNumerically("<=", 0.999))
			}
			last, err := c.Weigh(0, n-1)
			Expect(err).NotTo(HaveOccurred())
			Expect(last.Proven).To(BeFalse(), "%v", c)
			Expect(last.CleanNeeded).To(Equal(int64(1)))
			done, err := c.Weigh(0, n)
			Expect(err).NotTo(HaveOccurred())
			Expect(done.Proven).To(BeTrue(), "%v %+v", c, done)
			Expect(done.CleanNeeded).To(BeZero())
			Expect(done.Refuted).To(BeFalse())
			start, err := c.Weigh(0, 0)
			Expect(err).NotTo(HaveOccurred())
			Expect(start.CleanNeeded).To(Equal(n))
			Expect(start.For).To(BeNumerically("~", 1, 1e-12))
			Expect(start.Against).To(BeNumerically("~", 1, 1e-12))
		}
		one := Claim{0.01, 0.95}
		w298, _ := one.Weigh(0, 298)
		w299, _ := one.Weigh(0, 299)
		Expect([]bool{w298.Proven, w299.Proven}).To(Equal([]bool{false, true}))
	})

	// The mixtures by numerical integration (midpoints) instead of the beta
	// integral.
	It("gives the likelihood ratios it is defined by", func() {
		for _, c := range []Claim{{0.01, 0.95}, {0.2, 0.9}, {0.5, 0.99}} {
			w, err := c.weight()
			Expect(err).NotTo(HaveOccurred())
			for _, k := range [][2]int64{{0, 0}, {0, 7}, {1, 1}, {1, 120}, {3, 40}, {20, 100}, {9, 2000}} {
				mix := func(from, to float64) (sum float64) {
					const steps = 60000
					for i := range steps {
						p := from + (to-from)*(float64(i)+0.5)/steps
						sum += math.Exp(float64(k[0])*math.Log(p/c.Below) + float64(k[1]-k[0])*(math.Log1p(-p)-math.Log1p(-c.Below)))
					}
					return sum / steps
				}
				zero := 0.0
				if k[0] == 0 {
					zero = math.Pow(1-c.Below, -float64(k[1]))
				}
				got, err := c.Weigh(k[0], k[1])
				Expect(err).NotTo(HaveOccurred())
				if want := w*zero + (1-w)*mix(0, c.Below); math.IsInf(want, 1) {
					Expect(got.For).To(Equal(math.MaxFloat64))
				} else {
					Expect(got.For/want).To(BeNumerically("~", 1, 1e-6), "%v %v", c, k)
				}
				if want := mix(c.Below, 1); k == [2]int64{9, 2000} && c.Below == 0.5 {
					// The incomplete beta integral is below 1e-308 here.
					Expect(want).To(BeNumerically("<", 1))
					Expect(got.Against).To(BeZero())
				} else {
					Expect(got.Against/want).To(BeNumerically("~", 1, 1e-4), "%v %v", c, k)
				}
			}
		}
	})

	It("counts the clean repeats that are still needed", func() {
		c := Claim{0.01, 0.95}
		for _, k := range [][2]int64{{1, 10}, {1, 299}, {2, 300}, {5, 300}, {40, 50}} {
			now, err := c.Weigh(k[0], k[1])
			Expect(err).NotTo(HaveOccurred())
			Expect(now.CleanNeeded).To(BeNumerically(">", 0))
			before, err := c.Weigh(k[0], k[1]+now.CleanNeeded-1)
			Expect(err).NotTo(HaveOccurred())
			Expect(before.Proven).To(BeFalse())
			then, err := c.Weigh(k[0], k[1]+now.CleanNeeded)
			Expect(err).NotTo(HaveOccurred())
			Expect(then.Proven).To(BeTrue())
		}
		far, err := Claim{1e-7, 0.95}.Weigh(0, 0)
		Expect(err).NotTo(HaveOccurred())
		Expect(far.CleanNeeded).To(Equal(int64(-1)))
	})

	It("refutes when repeats part, and holds for huge counts", func() {
		c := Claim{0.01, 0.95}
		w, err := c.Weigh(3, 3)
		Expect(err).NotTo(HaveOccurred())
		Expect(w.Refuted).To(BeTrue())
		Expect(w.Proven).To(BeFalse())
		for _, k := range [][2]int64{{1e6, 1e6}, {0, 1e6}, {20000, 1e6}, {5000, 1e6}, {10000, 1e6}} {
			w, err := c.Weigh(k[0], k[1])
			Expect(err).NotTo(HaveOccurred())
			Expect(w.Proven).To(Equal(k[0] < 9000), "%v %+v", k, w)
			Expect(w.Refuted).To(Equal(k[0] > 11000), "%v %+v", k, w)
			Expect(math.IsNaN(w.For) || math.IsInf(w.For, 0) || math.IsNaN(w.Against) || math.IsInf(w.Against, 0)).To(BeFalse())
		}
	})

	// Ville's inequality: with the rate exactly at Below neither e-value
	// reaches 20 in more than 5 % of sequences, however often one looks. For
	// falls only when a repeat parts and Against only when none does, so it is
	// enough to look just before, and just after, each that parts.
	It("errs in at most 5 % of sequences that are watched all the time", func() {
		rng := rand.New(rand.NewPCG(6, 1))
		for _, c := range []Claim{{0.01, 0.95}, {0.05, 0.95}} {
			sequences := samples(2000)
			repeats := int64(20 / c.Below)
			proven, refuted := 0, 0
			for range sequences {
				wasProven, wasRefuted := false, false
				look := func(k, n int64) {
					w, err := c.Weigh(k, n)
					if err != nil {
						panic(err)
					}
					wasProven, wasRefuted = wasProven || w.Proven, wasRefuted || w.Refuted
				}
				var k int64
				for n := int64(1); n <= repeats && !(wasProven && wasRefuted); n++ {
					if rng.Float64() < c.Below {
						look(k, n-1)
						k++
						look(k, n)
					}
				}
				look(k, repeats)
				if wasProven {
					proven++
				}
				if wasRefuted {
					refuted++
				}
			}
			most := 0.05 + binomialError(0.05, sequences)
			Expect(float64(proven) / float64(sequences)).To(BeNumerically("<=", most))
			Expect(float64(refuted) / float64(sequences)).To(BeNumerically("<=", most))
			// And the bound is not idle: a claim at its very edge is proven by luck.
			Expect(proven).To(BeNumerically(">", sequences/100))
			GinkgoWriter.Printf("%v: proven %d, refuted %d of %d\n", c, proven, refuted, sequences)
		}
	})

	It("refuses what is out of range", func() {
		for _, c := range []Claim{{0, 0.95}, {1, 0.95}, {math.NaN(), 0.95}, {0.01, 0}, {0.01, 1}, {0.01, math.NaN()}, {1e-300, 0.95}} {
			_, err := c.Weigh(0, 1)
			Expect(err).To(MatchError(ErrRange))
		}
		for _, k := range [][2]int64{{2, 1}, {-1, 1}, {0, -1}, {0, 1 << 51}} {
			_, err := Claim{0.01, 0.95}.Weigh(k[0], k[1])
			Expect(err).To(MatchError(ErrRange))
		}
	})
})
