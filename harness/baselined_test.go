package harness_test

import (
	"context"
	"fmt"
	"image"
	"os"
	"path/filepath"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/fixtures/lamplighter"
	"latchproof/fixtures/sim"
	"latchproof/harness"
	"latchproof/harness/baseline"
	"latchproof/harness/checks"
	"latchproof/harness/record"
	"latchproof/specs"
	"latchproof/specs/program"
)

const stroll = `program 1
rest 5
hold right for 20
hold right+b for 15
`

// strolling is a spec of a short program.
func strolling(dir string) *specs.Spec {
	GinkgoHelper()
	Expect(os.WriteFile(filepath.Join(dir, "p.prog"), []byte(stroll), 0o666)).To(Succeed())
	path := filepath.Join(dir, "stroll.spec.yaml")
	text := "version: 1\nspec: stroll\nprogram: p.prog\nconsole: ntsc-8bit\nstart: power\nrepeats: 5\ntail: 10\n"
	Expect(os.WriteFile(path, []byte(text), 0o666)).To(Succeed())
	s, err := specs.Load(path, checks.All)
	Expect(err).NotTo(HaveOccurred())
	return s
}

// plain is a cheap bench that reads very steadily.
func plain(seed uint64) sim.Config {
	cfg := sim.Default()
	cfg.Seed = seed
	cfg.Console.ReadJitter, cfg.Console.Wander = 3, 0
	cfg.Console.Scene = lamplighter.StartStreet
	cfg.Card.Width, cfg.Card.Height, cfg.Card.Active = 256, 240, image.Rect(0, 0, 256, 240)
	return cfg
}

func playerOn(cfg sim.Config) *harness.Player {
	GinkgoHelper()
	b, err := sim.New(cfg, sim.Options{Pipe: true})
	Expect(err).NotTo(HaveOccurred())
	return &harness.Player{Bench: b, Out: GinkgoT().TempDir(), Version: "test"}
}

var _ = Describe("a candidate against a baseline", Ordered, ContinueOnFailure, func() {
	var base, session string
	var sp *specs.Spec

	BeforeAll(func(ctx context.Context) {
		if testing.Short() {
			Skip("playing takes long under the race detector")
		}
		dir, err := os.MkdirTemp("", "latchproof-baseline-")
		Expect(err).NotTo(HaveOccurred())
		DeferCleanup(os.RemoveAll, dir)
		sp = strolling(dir)
		p := playerOn(plain(1))
		p.Out = filepath.Join(dir, "session")
		session = p.Out
		for n := range 5 {
			run, err := p.Play(ctx, sp, n+1, 5)
			Expect(err).NotTo(HaveOccurred())
			Expect(run.Close()).To(Succeed())
		}
		runs, err := harness.RunFolders(session, sp)
		Expect(err).NotTo(HaveOccurred())
		base = filepath.Join(dir, "base")
		_, err = baseline.Accept(ctx, base, []baseline.Input{{Spec: sp, Runs: runs}}, baseline.AcceptOptions{Now: time.Now()})
		Expect(err).NotTo(HaveOccurred())
	})

	// check plays on a bench and gives what was found.
	check := func(ctx context.Context, cfg sim.Config, repeats int, margin ...float64) *harness.BaselineResult {
		GinkgoHelper()
		c, err := harness.OpenBaseline(ctx, base)
		Expect(err).NotTo(HaveOccurred())
		if len(margin) > 0 {
			c.Options.Margin = margin[0]
		}
		c.PlayOn(playerOn(cfg), repeats)
		Expect(c.Play(ctx)).To(Succeed())
		res, err := c.Result(ctx)
		Expect(err).NotTo(HaveOccurred())
		for _, r := range res.Specs[0].Rows {
			GinkgoWriter.Printf("%+v\n", r)
		}
		return res
	}
	// verdicts are those of the rows.
	verdicts := func(r *harness.BaselineResult) map[string]baseline.Verdict {
		out := map[string]baseline.Verdict{}
		for _, row := range r.Specs[0].Rows {
			out[row.What] = row.Verdict
		}
		return out
	}

	It("is no worse on another bench of the same make, with repeats enough", func(ctx context.Context) {
		// Wilson's limit for none of 9 at 95 % one-sided is 0.231.
		res := check(ctx, plain(2), 9, 0.25)
		Expect(res.Verdict).To(Equal(baseline.NoWorse), res.Sentence)
		Expect(res.Specs[0].Parts).To(BeNil())
		Expect(res.Differs).To(ContainElement(ContainSubstring("console serial number")))
		s, err := res.Report("check", "test")
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Baseline.Verdict).To(Equal("no worse"))
		Expect(s.Baseline.Specs[0].Survival[0].Repeats).To(Equal(4))
		Expect(s.Baseline.Specs[0].Survival[1].Repeats).To(Equal(9))
	})

	It("cannot be told by recorded runs that are too few, and is asked for more", func(ctx context.Context) {
		c, err := harness.OpenBaseline(ctx, base)
		Expect(err).NotTo(HaveOccurred())
		Expect(c.Take(session)).To(Succeed())
		res, err := c.Result(ctx)
		Expect(err).NotTo(HaveOccurred())
		Expect(res.Verdict).To(Equal(baseline.CannotTell))
		Expect(res.Need).To(Equal(baseline.Need{Candidate: 20}))
		Expect(res.Differs).To(BeEmpty())
	})

	DescribeTable("is worse, in the right row", func(ctx context.Context, what string, parts int64, change func(*sim.Config)) {
		cfg := plain(3)
		change(&cfg)
		res := check(ctx, cfg, 5)
		Expect(res.Verdict).To(Equal(baseline.Worse), res.Sentence)
		Expect(verdicts(res)).To(HaveKeyWithValue(what, baseline.Worse))
		if parts < 0 {
			Expect(res.Specs[0].Parts).To(BeNil())
			Expect(verdicts(res)).To(HaveKeyWithValue(baseline.RowLockstep, baseline.CannotTell))
			return
		}
		Expect(res.Specs[0].Parts).NotTo(BeNil())
		Expect(verdicts(res)).To(HaveKeyWithValue(baseline.RowLockstep, baseline.Worse))
		if parts > 0 {
			Expect(res.Specs[0].Parts.Read).To(Equal(parts))
			Expect(res.Specs[0].Parts.Kind).To(Equal("input"))
			Expect(res.Specs[0].Parts.Line).To(Equal(sp.Program.LineAt(25)))
		}
	},
		Entry("a missed read", baseline.RowReads, int64(25), func(c *sim.Config) {
			c.Troubles = []sim.Trouble{{Name: "missed-read", At: []int64{25}}}
		}),
		Entry("a clock pulse too many, which no picture shows", baseline.RowClocks, int64(-1), func(c *sim.Config) {
			c.Troubles = []sim.Trouble{{Name: "extra-clock", At: []int64{3}}} // nothing is held
		}),
		Entry("reads less steady", baseline.RowJitter, int64(-1), func(c *sim.Config) { c.Console.ReadJitter = 6 }),
		Entry("a board that serves slowly", baseline.RowService, int64(-1), func(c *sim.Config) {
			c.Troubles = []sim.Trouble{{Name: "slow-service", Strength: 5}}
		}),
		Entry("memory that is random at power-on", baseline.RowLockstep, int64(0), func(c *sim.Config) {
			c.Console.PowerOn = sim.PowerOnRandom
			c.Console.Scene = lamplighter.StartLinden
		}),
	)

	It("leaves out runs that break off, and then cannot be no worse", func(ctx context.Context) {
		cfg := plain(4)
		cfg.Troubles = []sim.Trouble{{Name: "unplug", Repeats: []int{2}, At: []int64{30}}}
		res := check(ctx, cfg, 3)
		Expect(res.Verdict).To(Equal(baseline.CannotTell))
		Expect(res.Specs[0].Left).To(ConsistOf(ContainSubstring("candidate run-002")))
		Expect(res.Specs[0].Row(baseline.RowLockstep).Candidate).To(Equal("0 of 2 parted, 1 not known"))
	})

	It("is refused when its runs are of another text or of two benches", func(ctx context.Context) {
		other := filepath.Join(GinkgoT().TempDir(), "session")
		for i, seed := range []uint64{5, 6} {
			p := playerOn(plain(seed))
			p.Out = other
			run, err := p.Play(ctx, sp, i+1, 2)
			Expect(err).NotTo(HaveOccurred())
			Expect(run.Close()).To(Succeed())
		}
		c, err := harness.OpenBaseline(ctx, base)
		Expect(err).NotTo(HaveOccurred())
		Expect(c.Take(other)).To(Succeed())
		_, err = c.Result(ctx)
		Expect(err).To(MatchError(ContainSubstring("different benches")))
		Expect(c.Take(GinkgoT().TempDir())).To(MatchError(ContainSubstring("no runs of the spec")))

		changed := *sp
		changed.Source = append([]byte("# another text\n"), sp.Source...)
		p := playerOn(plain(7))
		run, err := p.Play(ctx, &changed, 1, 1)
		Expect(err).NotTo(HaveOccurred())
		Expect(run.Close()).To(Succeed())
		c, err = harness.OpenBaseline(ctx, base)
		Expect(err).NotTo(HaveOccurred())
		Expect(c.Take(p.Out)).To(Succeed())
		_, err = c.Result(ctx)
		Expect(err).To(MatchError(ContainSubstring("another text")))
	})

	// The clock's fit follows a wander in a second or two; it takes a longer run to
	// tell, which is played without a card to be cheap.
	It("is worse when its crystal wanders, as the reads alone tell", func(ctx context.Context) {
		long := *sp
		var err error
		long.Program, err = program.Parse("long.prog", []byte("program 1\nrest 1500\n"), sp.Console, program.DefaultLimits)
		Expect(err).NotTo(HaveOccurred())
		read := func(cfg sim.Config) (side baseline.Side) {
			b, err := sim.New(cfg, sim.Options{Pipe: true, NoCard: true})
			Expect(err).NotTo(HaveOccurred())
			p := &harness.Player{Bench: b, Out: GinkgoT().TempDir(), Version: "test"}
			for n := range 5 {
				run, err := p.Play(ctx, &long, n+1, 5)
				Expect(err).NotTo(HaveOccurred())
				rec, err := record.Open(run.Dir)
				Expect(err).NotTo(HaveOccurred())
				numbers, err := baseline.NumbersOf(rec)
				Expect(err).NotTo(HaveOccurred())
				side.Numbers = append(side.Numbers, numbers)
				side.Lives = append(side.Lives, baseline.Life{Frame: 1500})
			}
			return side
		}
		cfg := plain(8)
		cfg.Troubles = []sim.Trouble{{Name: "wander", Strength: 100}}
		e := baseline.Evidence{Name: "long", Baseline: read(plain(1)), Candidate: read(cfg)}
		e.Baseline.Lives = e.Baseline.Lives[1:]
		v, err := baseline.Judge([]baseline.Evidence{e}, baseline.DefaultOptions())
		Expect(err).NotTo(HaveOccurred())
		for _, r := range v.Specs[0].Rows {
			GinkgoWriter.Printf("%+v\n", r)
			if r.What == baseline.RowJitter {
				Expect(r.Verdict).To(Equal(baseline.Worse))
			} else {
				Expect(r.Verdict).NotTo(Equal(baseline.Worse), r.What)
			}
		}
	})

	It("takes runs in the order of their numbers", func() {
		dir := GinkgoT().TempDir()
		for _, n := range []int{2, 1000, 10, 999} {
			Expect(os.MkdirAll(filepath.Join(dir, "stroll", fmt.Sprintf("run-%03d", n)), 0o777)).To(Succeed())
		}
		got, err := harness.RunFolders(dir, sp)
		Expect(err).NotTo(HaveOccurred())
		for i, name := range []string{"run-002", "run-010", "run-999", "run-1000"} {
			Expect(filepath.Base(got[i])).To(Equal(name))
		}
	})
})
