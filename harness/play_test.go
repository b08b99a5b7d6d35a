package harness_test

import (
	"context"
	"path/filepath"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/fixtures/demo"
	"latchproof/fixtures/sim"
	"latchproof/harness"
	"latchproof/harness/checks"
	"latchproof/harness/clock"
	"latchproof/harness/judge"
	"latchproof/harness/matchers"
	"latchproof/specs"
)

// load writes the demo's files and loads one of its specs.
func load(name string, repeats int) *specs.Spec {
	GinkgoHelper()
	dir := GinkgoT().TempDir()
	Expect(demo.Write(dir)).To(Succeed())
	s, err := specs.Load(filepath.Join(dir, name+".spec.yaml"), checks.All)
	Expect(err).NotTo(HaveOccurred())
	s.Repeats, s.Lockstep.Required = repeats, repeats
	return s
}

func player(cfg sim.Config) *harness.Player {
	GinkgoHelper()
	b, err := sim.New(cfg, sim.Options{})
	Expect(err).NotTo(HaveOccurred())
	return &harness.Player{Bench: b, Out: GinkgoT().TempDir(), Version: "test", KeepScreens: true}
}

var _ = Describe("playing on the simulated bench", func() {
	It("finds the sound program in lockstep, with every checkpoint passing", func(ctx context.Context) {
		if testing.Short() {
			Skip("a whole round takes long under the race detector")
		}
		c := harness.NewCase(load("first-lamp", 2), player(sim.Default()))
		defer c.Release()
		steps, err := c.Lockstep(ctx)
		Expect(err).NotTo(HaveOccurred())
		runs, errs := c.Runs()
		Expect(errs).To(BeEmpty())
		for _, r := range runs {
			Expect(r.Clock.State).To(Equal(clock.Measured), r.Clock.Why)
			for _, res := range r.Results {
				Expect(res.Verdict).To(Equal(judge.Pass), "%s: %s: %s", r.Name, res.Name, res.Why)
			}
			GinkgoWriter.Println(r.Line(), r.Problems)
		}
		Expect(steps.Lockstep()).To(BeTrue(), steps.Parting())
		Expect(c.Verdict()).To(Equal(harness.Held))
		Expect(runs[1]).To(matchers.StayInLockstepWith(runs[0]))
	})
})
