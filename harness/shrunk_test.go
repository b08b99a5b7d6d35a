package harness_test

import (
	"context"
	"encoding/json"
	"image"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/fixtures/lamplighter"
	"latchproof/fixtures/sim"
	"latchproof/harness"
	"latchproof/harness/checks"
	"latchproof/harness/lockstep"
	"latchproof/harness/shrink"
	"latchproof/specs"
)

// tiny is a bench whose runs are cheap: before the linden walk, 35 pixels to the
// right of which the moths rise, with pictures of the raster's own size.
func tiny(change func(*sim.Config)) harness.Bench {
	GinkgoHelper()
	cfg := sim.Default()
	cfg.Console.Scene = lamplighter.StartLinden
	cfg.Card.Width, cfg.Card.Height, cfg.Card.Active = 256, 240, image.Rect(0, 0, 256, 240)
	change(&cfg)
	b, err := sim.New(cfg, sim.Options{Pipe: true})
	Expect(err).NotTo(HaveOccurred())
	return b
}

// everyOther is every second repeat number.
func everyOther() (n []int) {
	for i := 2; i < 2000; i += 2 {
		n = append(n, i)
	}
	return n
}

// toLinden walks into the linden walk with things in between that do not matter.
const toLinden = `program 1
rest 3
tap b
mark walk
# slowly at first
hold right for 4
repeat 2
  hold down for 2
  rest 1
end
mark run
hold right+b for 20  # now run
tap a
rest 9
`

// brief is a spec of a program and a short tail, for the sake of time.
func brief(program string) *specs.Spec {
	GinkgoHelper()
	sp := bare(program, 3)
	sp.Tail = 40
	return sp
}

// sound checks what the files of a search must be, and gives the program's text.
func sound(s *harness.Shrinker, res *harness.Shrunk) string {
	GinkgoHelper()
	sp, err := specs.Load(filepath.Join(s.Out, res.Result.Spec), checks.All)
	Expect(err).NotTo(HaveOccurred())
	Expect(sp.Program.Hash()).To(Equal(res.Result.Hash))
	Expect(sp.Program.Reads()).To(Equal(res.Result.Reads))
	Expect(sp.Checkpoints).To(BeEmpty())
	Expect(sp.Repeats).To(BeNumerically(">=", 2))
	Expect(sp.Start).To(Equal(specs.StartPower))
	text, err := os.ReadFile(filepath.Join(s.Out, res.Result.Program))
	Expect(err).NotTo(HaveOccurred())
	Expect(string(text)).To(Equal(string(sp.Program.Format())))
	kept, err := os.ReadFile(filepath.Join(s.Out, "shrink.json"))
	Expect(err).NotTo(HaveOccurred())
	var again harness.Shrunk
	Expect(json.Unmarshal(kept, &again)).To(Succeed())
	Expect(again.Steps).To(Equal(res.Steps))
	Expect(again.Result).To(Equal(res.Result))
	left, err := os.ReadDir(s.Out)
	Expect(err).NotTo(HaveOccurred())
	Expect(left).To(HaveLen(3), "nothing played is left")
	return string(text)
}

var _ = Describe("shrinking", func() {
	var s *harness.Shrinker
	BeforeEach(func() {
		s = &harness.Shrinker{
			Out: GinkgoT().TempDir(), Version: "test", Confidence: 0.9, Rate: 0.6,
			Log: func(line string) { GinkgoWriter.Println(line) },
		}
	})

	It("of what power-on memory makes part leaves the walk to where it shows", func(ctx context.Context) {
		if testing.Short() {
			Skip("some 30 runs take long under the race detector")
		}
		s.Bench = tiny(func(c *sim.Config) { c.Console.PowerOn = sim.PowerOnRandom })
		s.Rate = 0.9 // any two runs part: one repeat tells
		res, err := s.Shrink(ctx, brief(toLinden))
		Expect(err).NotTo(HaveOccurred())
		Expect(res.Verdict).To(Equal(harness.Shrunken))
		Expect(res.Minimal).To(BeTrue())
		Expect(res.Original.Kind).To(Equal(lockstep.KindPicture))
		Expect(res.Original.Parted).To(Equal(res.Original.Repeats))
		Expect(res.Original.Line).To(Equal(12))
		// 35 pixels (lamplighter.StartLinden), 2 a read with b: 18 reads.
		Expect(sound(s, res)).To(HaveSuffix("\nmark run\nhold right+b for 18  # now run\n"))
		Expect(res.Result.Read).To(BeNumerically("==", 17))
		Expect(res.Result.Parted).To(Equal(res.Result.Repeats))
		Expect(res.WrongAtMost).To(BeNumerically("<=", 0.1))
		for _, st := range res.Steps {
			if st.Outcome == shrink.Stays {
				Expect(st.Repeats).To(Equal(res.PerStep))
			}
		}
	})

	It("of what one of two power-on contents makes part does the same", func(ctx context.Context) {
		if testing.Short() {
			Skip("some 30 runs take long under the race detector")
		}
		s.Bench = tiny(func(c *sim.Config) { c.Console.PowerOn, c.Seed = sim.PowerOnFew, 3 })
		s.Confidence, s.Rate = 0.8, 0.45
		res, err := s.Shrink(ctx, brief("program 1\nhold right+b for 19\n"))
		Expect(err).NotTo(HaveOccurred())
		Expect(res.Verdict).To(Equal(harness.Shrunken))
		Expect(res.Original.Parted).To(BeNumerically("<", res.Original.Repeats))
		// What of it is turned down by mistake is known: the seed is given.
		Expect(sound(s, res)).To(HaveSuffix("\nhold right+b for 18\n"))
	})

	It("of what strikes at a read leaves a button held there", func(ctx context.Context) {
		if testing.Short() {
			Skip("some 30 runs take long under the race detector")
		}
		const at = 12
		s.Rate = 0.9 // of two runs in a row exactly one is struck
		s.Bench = tiny(func(c *sim.Config) {
			c.Troubles = []sim.Trouble{{Name: "extra-clock", At: []int64{at}, Repeats: everyOther()}}
		})
		res, err := s.Shrink(ctx, brief("program 1\nrest 2\ntap b\nrepeat 2\ntap down\nrest 1\nend\nhold right+b for 9\nrest 9\n"))
		Expect(err).NotTo(HaveOccurred())
		Expect(res.Verdict).To(Equal(harness.Shrunken))
		Expect(res.Minimal).To(BeTrue())
		Expect(res.Result.Kind).To(Equal(lockstep.KindInput))
		Expect(res.Result.Read).To(BeNumerically("==", at))
		text := sound(s, res)
		// An edge too many after 4 bits changes what is behind them: up to right.
		// Nothing is left after that read, and little before it.
		sp, err := specs.Load(filepath.Join(s.Out, res.Result.Spec), checks.All)
		Expect(err).NotTo(HaveOccurred())
		Expect(sp.Program.Reads()).To(Equal(int64(at+1)), text)
		Expect(sp.Program.At(at).P1&0xf0).NotTo(BeZero(), text)
		Expect(res.Result.Statements).To(BeNumerically("<=", 3), text)
	})

	It("of what was never seen to part says so and writes nothing", func(ctx context.Context) {
		s.Bench = tiny(func(*sim.Config) {})
		res, err := s.Shrink(ctx, brief("program 1\nhold right for 9\n"))
		Expect(err).NotTo(HaveOccurred())
		Expect(res.Verdict).To(Equal(harness.NotTold))
		Expect(res.Result).To(BeNil())
		Expect(res.Steps).To(BeEmpty())
		// The least n with 0.4^n <= 0.1 is 3, and 1-0.4^3 = 0.936.
		Expect(res.Sentences).To(Equal([]string{"It was not seen to part: 0 of 3 repeats parted from the first run. A program of which 60 % of the runs are unlike the others would have parted with a chance of 93.6 %, so there is nothing to shrink; what parts more rarely needs a lower --rate."}))
		Expect(os.ReadDir(s.Out)).To(BeEmpty())
	})

	It("on a bench that was never calibrated tells nothing", func(ctx context.Context) {
		if testing.Short() {
			Skip("as above")
		}
		s.Bench = tiny(func(c *sim.Config) { c.Console.PowerOn, c.Card.LatencyHalf = sim.PowerOnRandom, 0 })
		res, err := s.Shrink(ctx, brief("program 1\nhold right+b for 20\n"))
		Expect(err).NotTo(HaveOccurred())
		Expect(res.Verdict).To(Equal(harness.NotTold))
		Expect(res.Sentences).To(HaveLen(1))
		Expect(res.Sentences[0]).To(HavePrefix("It cannot be told whether it parts: 0 of 0 repeats parted from the first run, 6 were left out, and 3 are needed. The first that was left out: its frame clock is "))
	})

	It("whose budget is used up gives what there is and says so", func(ctx context.Context) {
		if testing.Short() {
			Skip("as above")
		}
		s.Bench = tiny(func(c *sim.Config) { c.Console.PowerOn = sim.PowerOnRandom })
		s.Budget = time.Nanosecond
		res, err := s.Shrink(ctx, brief("program 1\nhold right+b for 20\n"))
		Expect(err).NotTo(HaveOccurred())
		Expect(res.Verdict).To(Equal(harness.Shrunken))
		Expect(res.Minimal).To(BeFalse())
		Expect(res.Steps).To(BeEmpty())
		Expect(strings.Join(res.Sentences, " ")).To(ContainSubstring("The search ended before it was done: the budget of 1ns was used up."))
		Expect(sound(s, res)).To(HaveSuffix("\nhold right+b for 20\n"))
	})

	It("that is interrupted keeps what was found, unconfirmed", func(ctx context.Context) {
		if testing.Short() {
			Skip("as above")
		}
		s.Bench = tiny(func(c *sim.Config) { c.Console.PowerOn = sim.PowerOnRandom })
		ctx, cancel := context.WithCancel(ctx)
		defer cancel()
		s.Log = func(line string) {
			if strings.HasPrefix(line, "step 1:") {
				cancel()
			}
		}
		res, err := s.Shrink(ctx, brief("program 1\nhold right+b for 20\nrest 40\n"))
		Expect(err).To(MatchError(harness.ErrStopped))
		Expect(res.Verdict).To(Equal(harness.NotTold))
		Expect(res.Steps).To(HaveLen(1))
		Expect(strings.Join(res.Sentences, " ")).To(ContainSubstring("It was not confirmed: stopped: context canceled."))
		Expect(sound(s, res)).To(HaveSuffix("\nhold right+b for 20\nrest 6\n"))
	})

	It("on a bench that fails ends with its error", func(ctx context.Context) {
		s.Bench = tiny(func(c *sim.Config) { c.Troubles = []sim.Trouble{{Name: "wrong-protocol"}} })
		res, err := s.Shrink(ctx, brief("program 1\nrest 3\n"))
		Expect(err).To(MatchError(ContainSubstring("3 repeats in a row failed: ")))
		Expect(res.Result).To(BeNil())
		Expect(os.ReadDir(s.Out)).To(BeEmpty())
	})
})
