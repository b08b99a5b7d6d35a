package harness_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/fixtures/sim"
	"latchproof/harness"
	"latchproof/harness/checks"
	"latchproof/harness/clock"
	"latchproof/harness/lockstep"
	"latchproof/harness/record"
	"latchproof/specs"
	"latchproof/specs/console"
)

// street starts the game and walks; it is cut off before the first cart.
const street = `program 1
rest 52
tap start
rest 29
hold right for 40
hold right+b for 20
tap up
rest 17
hold right+b for 40
rest 20
`

// bare makes a spec of a program with nothing but lockstep to judge.
func bare(program string, repeats int) *specs.Spec {
	GinkgoHelper()
	dir := GinkgoT().TempDir()
	Expect(os.WriteFile(filepath.Join(dir, "p.prog"), []byte(program), 0o666)).To(Succeed())
	spec := fmt.Sprintf("version: 1\nspec: bare\nprogram: p.prog\nconsole: ntsc-8bit\nstart: power\nrepeats: %d\n", repeats)
	path := filepath.Join(dir, "bare.spec.yaml")
	Expect(os.WriteFile(path, []byte(spec), 0o666)).To(Succeed())
	s, err := specs.Load(path, checks.All)
	Expect(err).NotTo(HaveOccurred())
	return s
}

// labels checks every picture that was given a frame against what the
// simulated bench knows it to be, and gives the frames that were seen.
func labels(run *harness.Run, truth *sim.Truth) map[console.Frame]bool {
	GinkgoHelper()
	rec, err := record.Open(run.Dir)
	Expect(err).NotTo(HaveOccurred())
	rows, err := rec.Frames()
	Expect(err).NotTo(HaveOccurred())
	Expect(rows).To(HaveLen(len(truth.Captures)))
	seen := map[console.Frame]bool{}
	for i, r := range rows {
		if r.State != record.Fresh {
			continue
		}
		Expect(r.Frame).To(Equal(truth.Captures[i].Frame), "%s, picture %d", run.Name, i)
		seen[r.Frame] = true
	}
	return seen
}

// trueSplit is the first frame that both runs saw and whose true pictures
// differ, and the first that truly differs whether seen or not.
func trueSplit(a, b *sim.Truth, seenA, seenB map[console.Frame]bool) (seen, first console.Frame) {
	seen, first = -1, -1
	for f := range min(len(a.Frames), len(b.Frames)) {
		fr := console.Frame(f)
		if a.Frames[f].Picture == b.Frames[f].Picture {
			continue
		}
		if first < 0 {
			first = fr
		}
		if seenA[fr] && seenB[fr] {
			return fr, first
		}
	}
	return seen, first
}

var _ = Describe("what is found against what really happened", func() {
	DescribeTable("two repeats", func(ctx context.Context, kind lockstep.Kind, read int64, program string, troubles ...sim.Trouble) {
		cfg := sim.Default()
		cfg.Seed = 7
		cfg.Troubles = troubles
		b, err := sim.New(cfg, sim.Options{})
		Expect(err).NotTo(HaveOccurred())
		p := &harness.Player{Bench: b, Out: GinkgoT().TempDir(), Version: "test"}
		c := harness.NewCase(bare(program, 2), p)
		steps, err := c.Lockstep(ctx)
		Expect(err).NotTo(HaveOccurred())
		runs, errs := c.Runs()
		Expect(errs).To(BeEmpty())
		Expect(steps.Left).To(BeEmpty())

		truths := []*sim.Truth{b.Truth(1), b.Truth(2)}
		var seen []map[console.Frame]bool
		for i, r := range runs {
			Expect(r.Clock.State).To(Equal(clock.Measured), r.Clock.Why)
			seen = append(seen, labels(r, truths[i]))
			// Common practice, no source: one read per frame at about 60 a
			// second whose spacing wanders while the count stays exact.
			Expect(r.Reads).To(HaveLen(int(r.Spec.Program.Reads()) + r.Spec.Tail))
			Expect(len(seen[i])).To(BeNumerically(">", r.Counts.Frames*8/10))
		}
		split, first := trueSplit(truths[0], truths[1], seen[0], seen[1])
		if kind == "" {
			Expect(split).To(BeEquivalentTo(-1), "the case is not what it is meant to be")
			Expect(steps.Lockstep()).To(BeTrue(), steps.Parting())
			return
		}
		Expect(split).To(BeNumerically(">", 0), "the case is not what it is meant to be")
		Expect(steps.Divergence).NotTo(BeNil())
		d := steps.Divergence
		Expect(d.Frame).To(Equal(split))
		Expect(d.Since).To(BeNumerically("<=", first))
		Expect(d.Kind).To(Equal(kind))
		if read >= 0 {
			Expect(int64(d.Read)).To(Equal(read))
		}
	},
		Entry("nothing wrong", lockstep.Kind(""), int64(-1), street),
		Entry("a fast crystal that wanders", lockstep.Kind(""), int64(-1), street,
			sim.Trouble{Name: "crystal", Repeats: []int{2}, Strength: 120}, sim.Trouble{Name: "wander", Repeats: []int{2}, Strength: 3}),
		Entry("double reads in every frame of one repeat", lockstep.Kind(""), int64(-1), street,
			sim.Trouble{Name: "double-reads", Repeats: []int{2}}),
		Entry("much noise", lockstep.Kind(""), int64(-1), street, sim.Trouble{Name: "noise", Strength: 12}),
		Entry("the card drops and repeats pictures", lockstep.Kind(""), int64(-1), street,
			sim.Trouble{Name: "drops", Repeats: []int{2}, Rate: 0.02}, sim.Trouble{Name: "repeats", Rate: 0.02}),
		Entry("a missed read", lockstep.KindInput, int64(95), street,
			sim.Trouble{Name: "missed-read", Repeats: []int{2}, At: []int64{95}}),
		Entry("a missed read in the first repeat", lockstep.KindInput, int64(95), street,
			sim.Trouble{Name: "missed-read", Repeats: []int{1}, At: []int64{95}}),
		Entry("an extra read", lockstep.KindInput, int64(-1), street,
			sim.Trouble{Name: "extra-read", Repeats: []int{2}, At: []int64{118}}),
		Entry("an extra clock pulse", lockstep.KindInput, int64(100), street,
			sim.Trouble{Name: "extra-clock", Repeats: []int{2}, At: []int64{100}}),
		Entry("lag frames in one repeat only", lockstep.KindInput, int64(-1), street,
			sim.Trouble{Name: "lag", Repeats: []int{2}, At: []int64{110}, Strength: 2}),
	)
})
