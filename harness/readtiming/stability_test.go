package readtiming_test

import (
	"bytes"
	"math"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/fixtures/sim"
	"latchproof/harness/readtiming"
)

// Errors of phase that do not know of one another, with standard deviation s, have
// an Allan deviation of sqrt(3)*s/tau and a time deviation of s/sqrt(m) (white phase
// modulation: W. J. Riley, NIST Special Publication 1065, 2008, sections 5.2 and 6).
// On the bench s is that of an even spread over 15 us either way.
var _ = Describe("stability", func() {
	const s = 15e-6 / 1.7320508075688772 // 15 us over sqrt(3)

	check := func(v readtiming.Study) {
		GinkgoHelper()
		period := v.PeriodUS * 1e-6
		Expect(v.Allan[0].Value).To(BeNumerically("~", math.Sqrt(3)*s/period, 0.05*math.Sqrt(3)*s/period))
		for i, m := range []float64{1, 2, 4, 8} {
			// The board, by whose clock it is, runs 35 ppm slow.
			Expect(v.Allan[i].TauS).To(BeNumerically("~", m*period*(1-35e-6), m*period*v.HalfPPM*1e-6))
			// About n/m independent terms: four standard errors, 4*sqrt(m/(2n)).
			near := 4 * math.Sqrt(m/(2*3000))
			Expect(v.TDEV[i].Value).To(BeNumerically("~", s/math.Sqrt(m), near*s/math.Sqrt(m)), "averaged over %v", m)
		}
	}

	It("is that of the bench's jitter, and no other where frames have no read", func(ctx SpecContext) {
		if testing.Short() {
			Skip("arithmetic of long runs takes long under the race detector")
		}
		in, _ := play(ctx, plain(), 3000)
		v := study(in)
		check(v)
		Expect(v.Allan).To(HaveLen(10)) // octaves up to 3000/3
		Expect(v.Allan[0].Low).To(And(BeNumerically(">", 0), BeNumerically("<", v.Allan[0].Value)))
		in, _ = play(ctx, plain(sim.Trouble{Name: "lag", Rate: 0.02}), 3000)
		w := study(in)
		Expect(len(w.LagFrames)).To(BeNumerically(">", 20))
		check(w)
		Expect(w.Allan[0].Terms).To(BeNumerically("<", v.Allan[0].Terms))
		var out bytes.Buffer
		w.Print(&out)
		Expect(out.String()).To(ContainSubstring("Allan deviation"))
	})
})
