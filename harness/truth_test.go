package harness_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/fixtures/sim"
	"latchproof/harness"
	"latchproof/harness/checks"
	"latchproof/harness/clock"
	"latchproof/harness/feeder"
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
		got := truth.Captures[i]
		if got.Frame != got.Due && got.Due == r.Frame && got.Frame >= 0 && truth.Frames[got.Frame].Picture == truth.Frames[got.Due].Picture {
			// A flat picture given again for one that is the same.
			got.Frame = got.Due
		}
		Expect(r.Frame).To(Equal(got.Frame), "%s, picture %d", run.Name, i)
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

// outcome is what two repeats on a bench with troubles came to, and the truth.
type outcome struct {
	steps        *harness.Steps
	split, first console.Frame // as trueSplit says
}

// twoRepeats plays a program twice and checks every picture's frame against the
// truth on the way.
func twoRepeats(ctx context.Context, program string, seed uint64, troubles []sim.Trouble) outcome {
	GinkgoHelper()
	cfg := sim.Default()
	cfg.Seed = seed
	cfg.Troubles = troubles
	b, err := sim.New(cfg, sim.Options{})
	Expect(err).NotTo(HaveOccurred())
	p := &harness.Player{Bench: b, Out: GinkgoT().TempDir(), Version: "test", Link: feeder.Options{Timeout: 5 * time.Second, Silence: time.Minute}}
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
	return outcome{steps, split, first}
}

// judge holds what was found against the truth.
func (o outcome) judge(kind lockstep.Kind, read int64) {
	GinkgoHelper()
	if o.split < 0 {
		Expect(o.steps.Lockstep()).To(BeTrue(), o.steps.Parting())
		return
	}
	Expect(o.steps.Divergence).NotTo(BeNil(), "pictures part at frame %d", o.split)
	d := o.steps.Divergence
	Expect(d.Frame).To(Equal(o.split))
	Expect(d.Since).To(BeNumerically("<=", o.first))
	Expect(d.Kind).To(Equal(kind))
	if read >= 0 {
		Expect(int64(d.Read)).To(Equal(read))
	}
}

var _ = Describe("what is found against what really happened", func() {
	DescribeTable("two repeats", func(ctx context.Context, kind lockstep.Kind, read int64, program string, troubles ...sim.Trouble) {
		if testing.Short() && read != 95 {
			Skip("one kind of case is enough under the race detector")
		}
		o := twoRepeats(ctx, program, 7, troubles)
		if kind == "" {
			Expect(o.split).To(BeEquivalentTo(-1), "the case is not what it is meant to be")
		} else {
			Expect(o.split).To(BeNumerically(">", 0), "the case is not what it is meant to be")
		}
		o.judge(kind, read)
	},
		Entry("nothing wrong", lockstep.Kind(""), int64(-1), street),
		Entry("a fast crystal that wanders", lockstep.Kind(""), int64(-1), street,
			sim.Trouble{Name: "crystal", Repeats: []int{2}, Strength: 120}, sim.Trouble{Name: "wander", Repeats: []int{2}, Strength: 3}),
		Entry("double reads in every frame of one repeat", lockstep.Kind(""), int64(-1), street,
			sim.Trouble{Name: "double-reads", Repeats: []int{2}}),
		Entry("much noise", lockstep.Kind(""), int64(-1), street, sim.Trouble{Name: "noise", Strength: 12}),
		Entry("a clean source, without noise", lockstep.Kind(""), int64(-1), street, sim.Trouble{Name: "noise", Strength: 0.001}),
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
		Entry("lag frames in one repeat only", lockstep.KindShift, int64(-1), street,
			sim.Trouble{Name: "lag", Repeats: []int{2}, At: []int64{110}, Strength: 2}),
	)

	// More cases: LATCHPROOF_CASES=200 go test ./harness -ginkgo.focus campaign
	It("holds over a campaign of random cases", func(ctx context.Context) {
		if testing.Short() {
			Skip("takes long under the race detector")
		}
		cases := 4
		if n, err := strconv.Atoi(os.Getenv("LATCHPROOF_CASES")); err == nil {
			cases = n
		}
		parted := 0
		for i := range cases {
			rng := rand.New(rand.NewPCG(20, uint64(i)))
			troubles := []sim.Trouble{
				{Name: "noise", Strength: 1 + rng.Float64()*9},
				{Name: "crystal", Repeats: []int{2}, Strength: rng.Float64()*300 - 150},
			}
			if rng.IntN(2) == 0 {
				troubles = append(troubles, sim.Trouble{Name: "drops", Rate: 0.01 * rng.Float64()}, sim.Trouble{Name: "repeats", Rate: 0.01 * rng.Float64()})
			}
			read := int64(84 + rng.IntN(80))
			name := []string{"missed-read", "extra-read", "extra-clock", ""}[rng.IntN(4)]
			if name != "" {
				troubles = append(troubles, sim.Trouble{Name: name, Repeats: []int{1 + rng.IntN(2)}, At: []int64{read}})
			}
			By(fmt.Sprintf("case %d: %+v", i, troubles))
			o := twoRepeats(ctx, street, uint64(1000+i), troubles)
			o.judge(lockstep.KindInput, -1)
			if o.split >= 0 {
				parted++
			}
		}
		GinkgoWriter.Printf("%d cases, %d of them parted\n", cases, parted)
	})
})
