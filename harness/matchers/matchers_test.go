package matchers_test

import (
	"errors"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/fixtures/demo"
	"latchproof/harness/judge"
	"latchproof/harness/lockstep"
	. "latchproof/harness/matchers"
	"latchproof/specs/console"
	"latchproof/vision"
	"latchproof/vision/screen"
)

type run struct {
	results map[string]judge.Result
	damage  error
}

func (r run) Result(name string) (judge.Result, bool) { x, ok := r.results[name]; return x, ok }
func (r run) Damage() error                           { return r.damage }

type steps struct{ in, compared, total int }

func (s steps) InStep() (in, compared, total int) { return s.in, s.compared, s.total }
func (s steps) Parting() string                   { return "they part at frame 9" }

type traced struct {
	run lockstep.Run
	err error
}

func (t traced) Comparable() error   { return t.err }
func (t traced) Steps() lockstep.Run { return t.run }

var _ = Describe("matchers", func() {
	It("find a template on a screen, and say where it is when it is elsewhere", func() {
		dir := GinkgoT().TempDir()
		Expect(demo.Write(dir)).To(Succeed())
		gate := filepath.Join(dir, "gate.png")
		tpl, alpha, err := screen.LoadPNG(gate)
		Expect(err).NotTo(HaveOccurred())
		s := screen.New(256, 240)
		for y := range tpl.H {
			for x := range tpl.W {
				if alpha == nil || alpha[y*tpl.W+x] >= 128 {
					s.Y[(y+100)*256+x+30] = tpl.Y[y*tpl.W+x]
				}
			}
		}
		Expect(s).To(ShowTemplate(gate))
		Expect(s).To(ShowTemplate(gate).Near(30, 100))
		Expect(s).To(ShowTemplate(gate).Near(31, 99).Within(1).Scoring(0.99))
		Expect(s).NotTo(ShowTemplate(gate).Near(40, 100).Within(1))
		Expect(s).NotTo(HideTemplate(gate))
		Expect(s).To(HideTemplate(gate).Near(80, 30).Within(2))
		Expect(s).NotTo(BeBlack())
		Expect(screen.New(256, 240)).To(BeBlack())

		m := ShowTemplate(gate).Near(40, 100).Within(1)
		ok, err := m.Match(s)
		Expect(ok, err).To(BeFalse())
		Expect(m.FailureMessage(s)).To(ContainSubstring("(30, 100)"), "the best place is named")
		Expect(m.FailureMessage(s)).To(ContainSubstring("0.9"), "the threshold is named")
	})

	It("tell a template that cannot be used from one that is not there", func() {
		_, err := ShowTemplate("no-such.png").Match(screen.New(256, 240))
		Expect(err).To(HaveOccurred())
		flat := filepath.Join(GinkgoT().TempDir(), "flat.png")
		Expect(screen.New(8, 8).SavePNG(flat)).To(Succeed())
		_, err = HideTemplate(flat).Match(screen.New(256, 240))
		Expect(err).To(MatchError(vision.ErrFlat))
		_, err = BeBlack().Match("a text")
		Expect(err).To(HaveOccurred())
	})

	It("tell a checkpoint that failed from one that nobody saw", func() {
		r := run{results: map[string]judge.Result{
			"good":   {Verdict: judge.Pass, Frame: 5, Why: "score 0.99"},
			"bad":    {Verdict: judge.Fail, Frame: 6, Why: "score 0.20 at (3, 4)"},
			"hidden": {Verdict: judge.Unseen, Frame: 7, Why: "dropped"},
		}}
		Expect(r).To(PassCheckpoint("good"))
		m := PassCheckpoint("bad")
		ok, err := m.Match(r)
		Expect(ok, err).To(BeFalse())
		Expect(m.FailureMessage(r)).To(Equal(`checkpoint "bad" failed at frame 6: score 0.20 at (3, 4)`))
		_, err = PassCheckpoint("hidden").Match(r)
		Expect(err).To(MatchError(judge.ErrUnseen))
		_, err = PassCheckpoint("none").Match(r)
		Expect(err).To(HaveOccurred())
		Expect(err).NotTo(MatchError(judge.ErrUnseen))
	})

	It("ask for a whole record", func() {
		Expect(run{}).To(BeWhole())
		torn := run{damage: errors.New("a read is missing")}
		m := BeWhole()
		ok, err := m.Match(torn)
		Expect(ok, err).To(BeFalse())
		Expect(m.FailureMessage(torn)).To(ContainSubstring("a read is missing"))
	})

	It("compare two runs", func() {
		trace := func(level byte) traced {
			m := lockstep.NewMemory(lockstep.Layout{W: 64, H: 64})
			for f := range 60 {
				s := screen.New(64, 64)
				for i := range s.Y {
					s.Y[i] = byte(40 + i%7)
				}
				if f >= 30 {
					for i := range 8 {
						s.Y[64*i+i] = level
					}
				}
				Expect(m.Add(console.Frame(f), lockstep.Seen, s)).To(Succeed())
			}
			return traced{run: lockstep.Run{Name: "r", Trace: m, LastFrame: 59}}
		}
		a := trace(250)
		Expect(trace(250)).To(StayInLockstepWith(a))
		m := StayInLockstepWith(a)
		ok, err := m.Match(trace(20))
		Expect(ok, err).To(BeFalse())
		Expect(m.FailureMessage(nil)).To(ContainSubstring("frame 30"))
		_, err = StayInLockstepWith(a).Match(traced{err: errors.New("partial")})
		Expect(err).To(MatchError("partial"))
	})

	It("count repeats in lockstep, and say when they cannot", func() {
		Expect(steps{5, 5, 5}).To(StayInLockstep(5))
		Expect(steps{4, 5, 5}).To(StayInLockstep(4))
		Expect(steps{4, 5, 5}).NotTo(StayInLockstep(5))
		m := StayInLockstep(5)
		_, err := m.Match(steps{4, 4, 5})
		Expect(err).To(MatchError(ContainSubstring("nothing can be said")))
		ok, err := m.Match(steps{3, 4, 5})
		Expect(ok, err).To(BeFalse(), "even with the fifth there would be only four")
		Expect(m.FailureMessage(nil)).To(ContainSubstring("they part at frame 9"))
	})
})
