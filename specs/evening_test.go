package specs_test

// A spec written in Go, as a maker would: it plays a program of its own on a
// bench (here the simulated one) and asks of its screens what it likes, with the
// matchers. A spec file does the same without programming; Go is for what a spec
// file cannot say, such as a condition between two screens.

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/fixtures/demo"
	"latchproof/fixtures/sim"
	"latchproof/harness"
	"latchproof/harness/checks"
	"latchproof/harness/look"
	. "latchproof/harness/matchers"
	"latchproof/harness/record"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

// The program: start, walk to the first lamp, light it.
const evening = `program 1
rest 52
mark start
tap start
rest 29
hold right for 40
hold right+b for 20
mark lamp
tap up
rest 20
`

// What is played, how often, and what every run must show at least. The rest is
// asked in Go.
const eveningSpec = `version: 1
spec: evening
program: evening.prog
console: ntsc-8bit
repeats: 2
anchor: {frame: 62, shows: {template: gate, near: [0, 131]}}
checkpoints:
  - name: the lamp catches
    at: lamp+7
    shows: {template: lamp-lit, near: [89, 120], within: 1}
  - name: black before the street
    at: [52, 61]
    unseen: 2
    still: true
timing:
  from: {at: lamp}
  to: {shows: {template: lamp-lit, near: [89, 120], within: 1}}
`

var _ = Describe("an evening on the simulated bench", Ordered, func() {
	var (
		dir  string
		play *harness.Case
		runs []*harness.Run
		film *look.Run // of the first run
	)
	file := func(name string) string { return filepath.Join(dir, name) }
	at := func(ctx context.Context, f console.Frame) *screen.Screen {
		GinkgoHelper()
		s, err := film.Screen(ctx, f)
		Expect(err).NotTo(HaveOccurred())
		return s
	}

	BeforeAll(func(ctx context.Context) {
		if testing.Short() {
			Skip("playing takes long under the race detector")
		}
		// The spec's folder: its program, and the pictures that it looks for.
		dir = GinkgoT().TempDir()
		Expect(demo.Write(dir)).To(Succeed())
		Expect(os.WriteFile(file("evening.prog"), []byte(evening), 0o600)).To(Succeed())
		Expect(os.WriteFile(file("evening.spec.yaml"), []byte(eveningSpec), 0o600)).To(Succeed())
		spec, err := specs.Load(file("evening.spec.yaml"), checks.All)
		Expect(err).NotTo(HaveOccurred())
		Expect(checks.Warnings(spec, nil)).To(BeEmpty())

		bench, err := sim.New(sim.Default(), sim.Options{})
		Expect(err).NotTo(HaveOccurred())
		play = harness.NewCase(spec, &harness.Player{Bench: bench, Out: GinkgoT().TempDir(), Version: "test"})
		_, err = play.Lockstep(ctx) // plays all repeats
		Expect(err).NotTo(HaveOccurred())
		var errs []error
		runs, errs = play.Runs()
		Expect(errs).To(BeEmpty())
		Expect(runs).To(HaveLen(2))

		rec, err := record.Open(runs[0].Dir)
		Expect(err).NotTo(HaveOccurred())
		on, err := harness.RecordedBench(rec)
		Expect(err).NotTo(HaveOccurred())
		film, err = look.New(rec, on.Active, on.Fields)
		Expect(err).NotTo(HaveOccurred())
	})

	AfterAll(func() {
		if play != nil {
			Expect(play.Release()).To(Succeed())
		}
	})

	It("is recorded whole, and the repeats stay in lockstep", func(ctx context.Context) {
		Expect(runs[0]).To(BeWhole())
		Expect(runs[1]).To(StayInLockstepWith(runs[0]))
		Expect(play.Steps()).To(StayInLockstep(2))
	})

	It("passes the checkpoints of the spec file", func() {
		for _, run := range runs {
			Expect(run).To(PassCheckpoint("the lamp catches"))
			Expect(run).To(PassCheckpoint("black before the street"))
			Expect(run).To(TakeFrames(7))
		}
		Expect(runs[0].Timing.Seconds).To(BeNumerically("~", 7*655171/39375000.0, 1e-12))
	})

	It("begins in an empty street", func(ctx context.Context) {
		street := at(ctx, 62)
		Expect(street).To(ShowTemplate(file("lamplighter-idle.png")).Near(40, 176))
		Expect(street).To(HideTemplate(file("tumble.png")))
		Expect(street).To(LookLike(file("street.png")))
		Expect(street).To(ReadNumber(0).By(file("hud-digits.png")).At(200, 16).Digits(2))
		Expect(street).NotTo(BeBlack())
		Expect([]*screen.Screen{at(ctx, 54), at(ctx, 58)}).To(StandStill())
	})

	// What a spec file cannot say: something of every screen and the one before.
	It("never counts a lamp back, and counts the first one when it catches", func(ctx context.Context) {
		catches, err := film.Frame(specs.Moment{Mark: "lamp", Offset: 7})
		Expect(err).NotTo(HaveOccurred())
		count := func(n int64) *ReadMatcher {
			return ReadNumber(n).By(file("hud-digits.png")).At(200, 16).Digits(2)
		}
		looked := 0
		street := func(f console.Frame) bool {
			return f >= 62 && f <= film.Last && f%4 == 0 || f == catches-1 || f == catches
		}
		Expect(film.Screens(ctx, street, func(f console.Frame, s *screen.Screen) error {
			looked++
			if f < catches {
				Expect(s).To(count(0), "frame %d", f)
			} else {
				Expect(s).To(count(1), "frame %d", f)
			}
			return nil
		})).To(Succeed())
		Expect(looked).To(BeNumerically(">", 20))
	})
})
