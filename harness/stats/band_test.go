package stats

import (
	"encoding/json"
	"math"
	"math/rand/v2"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("Curve.Band", func() {
	// Source: numpy and scipy by the formula, with the critical value by double
	// integration (bridge_test.go); S and nσ² from the published table of
	// survival_test.go. Here all are wider than the exact intervals.
	DescribeTable("is the one of Hall and Wellner",
		func(confidence, from, to float64, want []Interval) {
			c, err := KaplanMeier(mercaptopurine, 0.95)
			Expect(err).NotTo(HaveOccurred())
			text, err := json.Marshal(c)
			Expect(err).NotTo(HaveOccurred())
			var read Curve
			Expect(json.Unmarshal(text, &read)).To(Succeed())
			for _, curve := range []Curve{c, read} {
				got, err := curve.Band(confidence, from, to)
				Expect(err).NotTo(HaveOccurred())
				Expect(got).To(HaveLen(len(want)))
				for i := range want {
					Expect(got[i].Low).To(BeNumerically("~", want[i].Low, 1e-8))
					Expect(got[i].High).To(BeNumerically("~", min(1, want[i].High), 1e-8))
				}
			}
		},
		Entry("at 95 %, up to the last event", 0.95, math.Inf(-1), 23.0, []Interval{
			{0.5652860932, 1.1489996211}, {0.5138560402, 1.0995893380}, {0.4576238733, 1.0482584796}, {0.3874415333, 0.9929506236},
			{0.3172591933, 0.9376427675}, {0.1934539603, 0.8821762918}, {0.0696487272, 0.8267098162},
		}),
		Entry("at 90 %, in the middle", 0.90, 7.0, 20.0, []Interval{
			{0.5742847384, 1.0391606398}, {0.5185582278, 0.9873241252}, {0.4499104526, 0.9304817043}, {0.3812626774, 0.8736392834},
		}),
	)

	// Source: Kolmogorov's band, 1.3581/√n at 95 % and 1.6276/√n at 99 %.
	It("is Kolmogorov's without censoring", func() {
		rng := rand.New(rand.NewPCG(13, 1))
		const n = 400
		var l []Lifetime
		for range n {
			l = append(l, Lifetime{rng.Float64(), true})
		}
		c, err := KaplanMeier(l, 0.95)
		Expect(err).NotTo(HaveOccurred())
		for confidence, k := range map[float64]float64{0.95: 1.3581, 0.99: 1.6276} {
			band, err := c.Band(confidence, 0, math.Inf(1))
			Expect(err).NotTo(HaveOccurred())
			Expect(band).To(HaveLen(n))
			for i, s := range c.Steps[:n-1] {
				Expect(band[i].Low).To(BeNumerically("~", max(0, s.Survival-k/20), 1e-5))
				Expect(band[i].High).To(BeNumerically("~", min(1, s.Survival+k/20), 1e-5))
			}
			// At the last death Hall and Wellner end; the true curve does not rise.
			Expect(band[n-1]).To(Equal(Interval{0, band[n-2].High}))
		}
	})

	It("is nowhere narrower than the exact intervals, and no wider for fewer steps", func() {
		rng := rand.New(rand.NewPCG(13, 2))
		for range 60 {
			c, err := KaplanMeier(drawLives(rng, 1+rng.IntN(50), 0.001+0.05*rng.Float64(), 30), 0.9)
			Expect(err).NotTo(HaveOccurred())
			all, err := c.Band(0.9, 0, math.Inf(1))
			Expect(err).NotTo(HaveOccurred())
			Expect(all).To(HaveLen(len(c.Steps)))
			for i, s := range c.Steps {
				Expect(all[i].Low).To(And(BeNumerically(">=", 0), BeNumerically("<=", s.Exact.Low)))
				Expect(all[i].High).To(And(BeNumerically("<=", 1), BeNumerically(">=", s.Exact.High)))
				// A band of fewer steps is no wider.
				one, err := c.Band(0.9, s.Time, s.Time)
				Expect(err).NotTo(HaveOccurred())
				Expect(one).To(HaveLen(1))
				Expect(one[0].Low).To(BeNumerically(">=", all[i].Low-1e-9))
				Expect(one[0].High).To(BeNumerically("<=", all[i].High+1e-9))
			}
		}
	})

	It("says what it can where there is no event, and nothing where there is no step", func() {
		none, err := KaplanMeier(nil, 0.95)
		Expect(err).NotTo(HaveOccurred())
		Expect(none.Band(0.95, 0, 9)).To(BeEmpty())

		clean, err := KaplanMeier(lives(-7, -9, -9), 0.5)
		Expect(err).NotTo(HaveOccurred())
		Expect(clean.Band(0.95, 0, 8)).To(BeEmpty())
		band, err := clean.Band(0.95, 0, 9)
		Expect(err).NotTo(HaveOccurred())
		Expect(band).To(HaveLen(1))
		Expect(band[0].Low).To(BeNumerically("~", math.Sqrt(0.025), 1e-12)) // two lives saw 9
		Expect(band[0].High).To(Equal(1.0))

		// One life, and all at once: the estimate is 0, and only the exact limit speaks.
		for n, times := range map[float64][]float64{1: {4}, 3: {0, 0, 0}} {
			c, err := KaplanMeier(lives(times...), 0.5)
			Expect(err).NotTo(HaveOccurred())
			band, err := c.Band(0.95, 0, 9)
			Expect(err).NotTo(HaveOccurred())
			Expect(band).To(HaveLen(1))
			Expect(band[0].Low).To(BeZero())
			Expect(band[0].High).To(BeNumerically("~", 1-math.Pow(0.025, 1/n), 1e-12))
		}

		// An early event, then many lives that are watched for long: the last
		// time has the band of the event, but only one life saw it.
		c, err := KaplanMeier(lives(1, -2, -2, -2, -2, -2, -2, -2, -2, -90), 0.95)
		Expect(err).NotTo(HaveOccurred())
		band, err = c.Band(0.95, 0, 90)
		Expect(err).NotTo(HaveOccurred())
		Expect(band[0].Low).To(BeNumerically(">", 0.5))
		Expect(band[1].Low).To(Equal(c.Steps[1].Exact.Low))
		Expect(band[1].Low).To(BeNumerically("<", 0.05))
	})

	It("refuses what is no range", func() {
		c, err := KaplanMeier(mercaptopurine, 0.95)
		Expect(err).NotTo(HaveOccurred())
		for _, bad := range [][3]float64{{0, 0, 1}, {1, 0, 1}, {math.NaN(), 0, 1}, {0.95, math.NaN(), 1}, {0.95, 0, math.NaN()}, {0.95, 2, 1}} {
			_, err := c.Band(bad[0], bad[1], bad[2])
			Expect(err).To(MatchError(ErrRange))
		}
	})
})
