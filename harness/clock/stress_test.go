package clock

import (
	"fmt"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/specs/console"
)

// harsh is trouble far beyond that of randomSettings: stamps strewn by up to 8
// ms (half width, or sigma of a normal), delays that are one-sided, hundreds of
// pictures lost at once, and wander of all three clocks.
func harsh(r *rand.Rand) settings {
	s := randomSettings(r)
	s.frames = []int{120, 600, 1200, 2400, 4800}[r.IntN(5)] + r.IntN(60)
	s.rate = []float64{60000. / 1001, 60.0988, 60, 60, 50}[r.IntN(5)]
	s.normal, s.boundless = r.IntN(2) == 0, true
	s.stampJitter = 8e-3 * r.Float64()
	s.delay = 0
	if r.IntN(3) == 0 {
		// The punctual ones must be told from the late ones to be worth the name.
		s.delay = 2.7e-3 * r.Float64()
		s.stampJitter = s.delay / 5 * r.Float64()
		s.squared = r.IntN(2) == 0
	}
	s.drop = []float64{0, 0, 0.001, 0.02, 0.1}[r.IntN(5)]
	if r.IntN(2) == 0 {
		s.bursts, s.burst = 1+r.IntN(5), []int{3, 40, 600}[r.IntN(3)]
	}
	s.wanderPeriod = 30 + 570*r.Float64()
	s.cardWander = 3 * r.Float64()
	s.boardWander = 0.5 * r.Float64()
	return s
}

var _ = Describe("harsh runs", func() {
	It("give right frames, or none", func() {
		runs := 150
		if testing.Short() {
			runs = 30
		}
		if n, err := strconv.Atoi(os.Getenv("LATCHPROOF_CLOCKS")); err == nil {
			runs = n
		}
		trusted, sure, pictures := 0, 0, 0
		var wrong []string
		for seed := range uint64(runs) {
			r := rand.New(rand.NewPCG(seed, 23))
			s := harsh(r)
			t := simulate(r, s)
			about := fmt.Sprintf("seed %d: %+v", seed, s)
			in, err := t.input()
			if err != nil {
				continue
			}
			if r.IntN(2) == 0 && s.delay == 0 {
				n := r.IntN(s.frames)
				if k := t.firstOf(n); k < len(t.stamps) {
					in.Anchor = &Anchor{Frame: console.Frame(n), Capture: k}
				}
			}
			c, err := Build(in)
			Expect(err).NotTo(HaveOccurred(), about)
			if c.State != Measured {
				Expect(c.State).To(Equal(Untrusted), about)
				Expect(c.Why).NotTo(BeEmpty(), about)
				expectNothing(c)
				continue
			}
			trusted++
			for k, a := range c.Captures {
				pictures++
				if a.State == Sure {
					sure++
					if int(a.Frame) != t.frame(k) {
						wrong = append(wrong, fmt.Sprintf("picture %d is of frame %d and was surely labelled %d, margin %v, guard %v, tick %d; %s",
							k, t.frame(k), a.Frame, a.Margin, a.Guard, a.Tick, about))
						break
					}
				}
			}
		}
		GinkgoWriter.Printf("%d of %d clocks are measured; of their %d pictures %d are sure\n", trusted, runs, pictures, sure)
		Expect(wrong).To(BeEmpty())
		Expect(trusted).To(BeNumerically(">", runs*3/4))
		Expect(sure).To(BeNumerically(">", pictures/2))
	})
})
