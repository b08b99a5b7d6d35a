package harness_test

import (
	"bytes"
	"context"
	"image"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/fixtures/sim"
	"latchproof/harness"
	"latchproof/reports"
)

// walk is long enough for a strobe and what comes after it.
const walk = `program 1
rest 52
tap start
rest 29
hold right for 40
rest 200
`

var _ = Describe("flashing stretches in the report", func() {
	It("are found in the run that flashes, on its frames, and in no other", func(ctx context.Context) {
		if testing.Short() {
			Skip("played runs take long under the race detector")
		}
		var cases []*harness.Case
		for _, troubles := range [][]sim.Trouble{nil, {{Name: "strobe", At: []int64{150}, Strength: 6}}} {
			cfg := sim.Default()
			cfg.Card.Width, cfg.Card.Height, cfg.Card.Active = 256, 240, image.Rect(0, 0, 256, 240)
			cfg.Troubles = troubles
			c := harness.NewCase(bare(walk, 2), player(cfg))
			defer c.Release()
			_, err := c.Lockstep(ctx)
			Expect(err).NotTo(HaveOccurred())
			cases = append(cases, c)
		}
		s, err := harness.Report("flashing", "test", cases)
		Expect(err).NotTo(HaveOccurred())
		calm, f := s.Specs[0].Flash, s.Specs[1].Flash
		Expect(calm.Flashes()).To(BeFalse())
		Expect(calm.Runs).To(HaveLen(1), "one of the family")
		Expect(calm.Runs[0].Frames).To(BeNumerically(">", 300))
		Expect(calm.Runs[0].Unseen).To(BeNumerically("<", 30))

		// Six flashes in 60 frames, of which the picture is turned first: changes at
		// 150, 155, 160 and so on to 265, seen or at the next frame that is. The cut to
		// the street, at frame 53, is more than a second before.
		Expect(f.Runs).To(HaveLen(1))
		Expect(f.Runs[0].Stretches).To(HaveLen(1))
		got := f.Runs[0].Stretches[0]
		GinkgoWriter.Printf("%+v\n", got)
		Expect(got.Kind).To(Equal("general"))
		Expect(got.From).To(BeNumerically("~", 150, 1))
		Expect(got.To).To(BeNumerically("~", 265, 1))
		Expect(got.Flashes).To(BeNumerically("~", 6, 1))
		Expect(got.Area).To(BeNumerically(">", 0.9))
		Expect(got.FromSeconds).To(BeNumerically("~", float64(got.From)/60.0988, 0.01))
		Expect(got.Place[2]).To(BeNumerically(">", 200))

		var b bytes.Buffer
		Expect(reports.WriteJSON(&b, s)).To(Succeed())
		Expect(b.String()).To(ContainSubstring(`"flashes_in_worst_second": `))
		back, err := reports.ReadJSON(&b)
		Expect(err).NotTo(HaveOccurred())
		Expect(back.Specs[1].Flash.Runs[0].Stretches).To(Equal(f.Runs[0].Stretches))
	})
})
