package matchers_test

import (
	"os"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/checks"
	"latchproof/harness/judge"
	. "latchproof/harness/matchers"
	"latchproof/vision"
	"latchproof/vision/screen"
)

type timed struct{ t *judge.Timing }

func (t timed) Took() *judge.Timing { return t.t }

var _ = Describe("matchers of the kinds", func() {
	var (
		at   map[int]*screen.Screen
		file func(string) string
	)
	BeforeEach(func() {
		var done func()
		at, file, done = shots(62, 228, 847)
		DeferCleanup(done)
	})

	It("read numbers, and say when nothing can be read", func() {
		m := ReadNumber(6).By(file("hud-digits.png")).At(200, 16).Digits(2)
		Expect(at[847]).To(m)
		Expect(at[847]).NotTo(ReadNumber(5).By(file("hud-digits.png")).At(200, 16).Digits(2))
		Expect(at[847]).To(ReadNumberFrom(1, 6).By(file("hud-digits.png")).At(200, 16).Digits(2))
		Expect(at[62]).To(ReadText("00").By(file("hud-digits.png")).Characters("0123456789").Cell(8, 8).Pitch(8).At(200, 16).Scoring(0.8))
		Expect(m.NegatedFailureMessage(nil)).To(HavePrefix("reads 2 characters: 6 at (200, 16) by glyphs holds, and should not: "))
		_, err := ReadNumber(6).By(file("hud-digits.png")).At(100, 100).Digits(2).Match(at[847])
		Expect(err).To(MatchError(checks.ErrUnsure))
		_, err = ReadNumber(6).Match(at[847])
		Expect(err).To(MatchError(ContainSubstring("By")))
		_, err = ReadNumber(6).By(file("gate.png")).Match(at[847])
		Expect(err).To(MatchError(checks.ErrSheet))
		_, err = ReadNumber(6).By(file("no-such.png")).Match(at[847])
		Expect(err).To(MatchError(os.ErrNotExist))
		_, err = ReadNumber(6).By(file("hud-digits.png")).At(250, 16).Digits(2).Match(at[847])
		Expect(err).To(MatchError(vision.ErrOutside))
		_, err = ReadNumber(6).By(file("hud-digits.png")).At(200, 16).Digits(2).Match("a text")
		Expect(err).To(HaveOccurred())
	})

	It("measure distances", func() {
		shoe, corner := PointIn(file("leap.png")).Pixel(14, 22), PointIn(file("cart.png")).Near(101, 180, 16).Scoring(0.8)
		Expect(at[228]).To(MeasureDistance(1, -1).From(corner).To(shoe))
		Expect(at[228]).To(MeasureDistance(2, 0).From(corner).To(shoe).GiveOrTake(1))
		Expect(at[228]).NotTo(MeasureDistance(2, 0).From(corner).To(shoe))
		Expect(at[62]).NotTo(MeasureDistance(1, -1).From(corner).To(shoe), "no cart in sight")
		_, err := MeasureDistance(1, 1).From(corner).Match(at[228])
		Expect(err).To(MatchError(ContainSubstring("To")))
		_, err = MeasureDistance(1, 1).From(corner).To(PointIn("none.png")).Match(at[228])
		Expect(err).To(MatchError(os.ErrNotExist))
	})

	It("hold the whole screen against a picture, and screens against one another", func() {
		Expect(at[62]).To(LookLike(file("street.png")))
		Expect(at[228]).NotTo(LookLike(file("street.png")))
		_, err := LookLike(file("gate.png")).Match(at[62])
		Expect(err).To(MatchError(checks.ErrRaster))
		_, err = LookLike(filepath.Join(file(""), "first-lamp.prog")).Match(at[62])
		Expect(err).To(MatchError(screen.ErrPNG))

		m := StandStill()
		Expect([]*screen.Screen{at[62], at[62].Clone()}).To(m)
		Expect(m.NegatedFailureMessage(nil)).To(Equal("the picture stands still in all 2 screens, and should not"))
		Expect([]*screen.Screen{at[62], at[62], at[228]}).NotTo(m)
		Expect(m.FailureMessage(nil)).To(HavePrefix("the picture stands still: screen 2 "))
		Expect([]*screen.Screen{at[62], at[228]}).To(StandStill().Ignoring(at[62].Bounds()))
		for _, bad := range []any{at[62], []*screen.Screen{at[62]}, []*screen.Screen{at[62], screen.New(8, 8)}} {
			_, err := StandStill().Match(bad)
			Expect(err).To(HaveOccurred())
		}
	})

	It("hold a timing against frames, and say when unseen frames leave it open", func() {
		t := timed{&judge.Timing{Verdict: judge.Pass, Frames: 20, Low: 19, High: 21, Why: "20 frames; 19 to 21"}}
		Expect(t).To(TakeFramesFrom(19, 21))
		Expect(t).NotTo(TakeFramesFrom(1, 18))
		Expect(t).NotTo(TakeFrames(22))
		_, err := TakeFrames(20).Match(t)
		Expect(err).To(MatchError(judge.ErrUnseen))
		exact := timed{&judge.Timing{Verdict: judge.Pass, Frames: 20, Low: 20, High: 20, Why: "20 frames"}}
		Expect(exact).To(TakeFrames(20))
		m := TakeFrames(21)
		ok, err := m.Match(exact)
		Expect(ok, err).To(BeFalse())
		Expect(m.FailureMessage(nil)).To(Equal("it should take 21 frames: 20 frames"))
		Expect(timed{&judge.Timing{Verdict: judge.Fail}}).NotTo(TakeFrames(0))
		for _, bad := range []any{timed{}, timed{&judge.Timing{Verdict: judge.Unseen}}, "a text"} {
			_, err := TakeFrames(20).Match(bad)
			Expect(err).To(HaveOccurred())
		}
	})
})
