package stats

import (
	"math"
	"math/rand/v2"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// A bench for the intervals: lives whose true survival is known, and how many
// events they have on average.
type coverageCase struct {
	name string
	n    int
	rate float64
	last int // they are censored evenly over 1..last
}

func (c coverageCase) truth(t float64) float64 { return math.Exp(-c.rate * t) }

var coverageCases = []coverageCase{
	{"many events", 60, 0.05, 60},
	{"some", 40, 0.03, 20},
	{"few events", 30, 0.004, 30},
}

// Both are seeded: the same samples every time.
var _ = Describe("the coverage in simulations", func() {
	// The exact limits hold the truth in at least 95 % (Fay, Brittain and
	// Proschan 2013). The log(-log) interval is an approximation for many
	// events: it is asked for 90 % only.
	It("of the pointwise 95 % intervals", func() {
		for k, bench := range coverageCases {
			rng := rand.New(rand.NewPCG(11, uint64(k)))
			samples := samples(2000)
			times := []float64{float64(bench.last / 10), float64(bench.last / 4), float64(bench.last / 2), float64(bench.last * 4 / 5)}
			exact, loglog, events := make([]int, len(times)), make([]int, len(times)), 0
			for range samples {
				c, err := KaplanMeier(drawLives(rng, bench.n, bench.rate, bench.last), 0.95)
				Expect(err).NotTo(HaveOccurred())
				events += int(c.Events)
				for i, t := range times {
					s, want := c.At(t), bench.truth(t)
					if s.Exact.Low <= want && want <= s.Exact.High {
						exact[i]++
					}
					if s.LogLog.Low <= want && want <= s.LogLog.High {
						loglog[i]++
					}
				}
			}
			GinkgoWriter.Printf("%s (%.1f of %d): at %v exact %v, log-log %v of %d\n", bench.name, float64(events)/float64(samples), bench.n, times, exact, loglog, samples)
			for i := range times {
				Expect(float64(exact[i])/float64(samples)).To(BeNumerically(">=", 0.95-binomialError(0.95, samples)), "%s, at %v", bench.name, times[i])
				Expect(float64(loglog[i])/float64(samples)).To(BeNumerically(">=", 0.90), "%s, at %v", bench.name, times[i])
			}
		}
	})

	It("of the simultaneous 95 % band, and that the pointwise intervals do not have it", func() {
		for k, bench := range coverageCases {
			rng := rand.New(rand.NewPCG(12, uint64(k)))
			samples := samples(1000)
			held, heldPart, pointwise := 0, 0, 0
			for range samples {
				c, err := KaplanMeier(drawLives(rng, bench.n, bench.rate, bench.last), 0.95)
				Expect(err).NotTo(HaveOccurred())
				part := [2]float64{float64(bench.last) / 5, float64(bench.last) / 2}
				holds := func(from, to float64, pick func(i int, band []Interval, s Step) Interval) int {
					band, err := c.Band(0.95, from, to)
					Expect(err).NotTo(HaveOccurred())
					i := 0
					for _, s := range c.Steps {
						if from <= s.Time && s.Time <= to {
							iv := pick(i, band, s)
							if want := bench.truth(s.Time); want < iv.Low || want > iv.High {
								return 0
							}
							i++
						}
					}
					return 1
				}
				ofBand := func(i int, band []Interval, _ Step) Interval { return band[i] }
				held += holds(0, math.Inf(1), ofBand)
				heldPart += holds(part[0], part[1], ofBand)
				pointwise += holds(0, math.Inf(1), func(_ int, _ []Interval, s Step) Interval { return s.Exact })
			}
			GinkgoWriter.Printf("%s: band %d, of a part %d, pointwise everywhere %d of %d\n", bench.name, held, heldPart, pointwise, samples)
			least := 0.95 - binomialError(0.95, samples)
			Expect(float64(held)/float64(samples)).To(BeNumerically(">=", least), bench.name)
			Expect(float64(heldPart)/float64(samples)).To(BeNumerically(">=", least), bench.name)
			if bench.name == "many events" {
				Expect(float64(pointwise)/float64(samples)).To(BeNumerically("<", 0.9), bench.name)
			}
		}
	})
})
