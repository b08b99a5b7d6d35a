package harness_test

import (
	"context"
	"image"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/fixtures/sim"
	"latchproof/harness"
	"latchproof/harness/clock"
	"latchproof/specs/console"
)

// Every picture that is given a frame is of that frame, whatever card took it.
var _ = Describe("cards", func() {
	DescribeTable("give every picture its frame or none",
		func(ctx context.Context, share float64, set func(*sim.CardConfig), troubles ...sim.Trouble) {
			if testing.Short() {
				Skip("the same code as the other runs")
			}
			cfg := sim.Default()
			cfg.Seed = 31
			cfg.Troubles = troubles
			set(&cfg.Card)
			b, err := sim.New(cfg, sim.Options{})
			Expect(err).NotTo(HaveOccurred())
			p := &harness.Player{Bench: b, Out: GinkgoT().TempDir(), Version: "test"}
			run, err := p.Play(ctx, bare(street, 2), 1, 1)
			Expect(err).NotTo(HaveOccurred())
			Expect(run.Clock.State).To(Equal(clock.Measured), run.Clock.Why)
			seen := labels(run, b.Truth(1))
			Expect(float64(len(seen))).To(BeNumerically(">", share*float64(run.Counts.Frames)))
		},
		Entry("top field first", 0.9, woven(sim.FieldsTop)),
		Entry("bottom field first", 0.9, woven(sim.FieldsBottom)),
		Entry("720p in H.264", 0.9, func(c *sim.CardConfig) {
			c.Width, c.Height, c.Active, c.Codec = 1280, 720, image.Rect(160, 0, 1120, 720), sim.CodecH264
		}),
		Entry("the console's own rate", 0.8, func(c *sim.CardConfig) { c.Rate = console.Rate{} }),
		Entry("stamps strewn by 3 ms", 0.5, func(c *sim.CardConfig) { c.StampJitter = 3000 }),
		Entry("stamps up to 8 ms late", 0.5, func(c *sim.CardConfig) { c.HostJitter = 8000 }),
		Entry("bursts of drops, repeats, damage and a broken stream", 0.7, func(*sim.CardConfig) {},
			sim.Trouble{Name: "drops", Rate: 0.01, Strength: 6}, sim.Trouble{Name: "repeats", Rate: 0.02},
			sim.Trouble{Name: "corrupt-stream", Rate: 0.01}),
	)
})

func woven(f sim.Fields) func(*sim.CardConfig) {
	return func(c *sim.CardConfig) {
		c.Width, c.Height, c.Active, c.Fields = 720, 480, image.Rect(72, 0, 648, 480), f
	}
}
