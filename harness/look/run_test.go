package look_test

import (
	"context"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/judge"
	"latchproof/harness/look"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

var _ = Describe("a run", func() {
	moment := func(text string) specs.Moment {
		m, err := specs.ParseMoment(text)
		Expect(err).NotTo(HaveOccurred())
		return m
	}

	It("gives the picture of each frame seen, exactly, and of no other", func(ctx context.Context) {
		r := makeRun(false)
		Expect(r.Last).To(Equal(console.Frame(madeFrames - 1)))
		var got []console.Frame
		err := r.Screens(ctx, func(f console.Frame) bool { return f >= 20 && f <= 30 }, func(f console.Frame, s *screen.Screen) error {
			got = append(got, f)
			Expect(s.Y).To(Equal(madeScreen(int(f)).Y), "frame %d", f)
			return nil
		})
		Expect(err).NotTo(HaveOccurred())
		Expect(got).To(Equal([]console.Frame{20, 21, 22, 23, 24, 27, 28, 29, 30}))
		s, err := r.Screen(ctx, 41)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Y).To(Equal(madeScreen(41).Y))
	})

	It("says why a frame has no picture, and never gives its neighbour", func(ctx context.Context) {
		r := makeRun(false)
		_, err := r.Screen(ctx, 25)
		Expect(err).To(MatchError(judge.ErrUnseen))
		Expect(err).To(MatchError(ContainSubstring("it has one of 24 and of 27")))
		_, err = r.Screen(ctx, 60)
		Expect(err).To(MatchError(judge.ErrUnseen))
		Expect(err).To(MatchError(ContainSubstring("the run's last frame is 59")))
	})

	It("places marks by the run's own program and reads, and names frames by them", func() {
		r := makeRun(true)
		for text, want := range map[string]console.Frame{
			"7": 7, "jump": 10, "jump-2": 8, "jump+19": 29, "late": 31, "late+4": 35, // frame 30 had no read
		} {
			f, err := r.Frame(moment(text))
			Expect(err).NotTo(HaveOccurred(), text)
			Expect(f).To(Equal(want), text)
		}
		for f, want := range map[console.Frame]string{
			0: "", 9: "", 10: "jump", 29: "jump+19", 30: "lag", 31: "late", 40: "late+9",
		} {
			Expect(r.Label(f)).To(Equal(want), "frame %d", f)
		}
		_, err := r.Frame(moment("gone"))
		Expect(err).To(MatchError(specs.ErrNoMark))
		_, err = r.Frame(moment("late+400"))
		Expect(err).To(MatchError(specs.ErrNoRead))
	})

	It("places no marks without a read log", func() {
		r := makeRun(false)
		_, err := r.Frame(moment("jump"))
		Expect(err).To(MatchError(look.ErrNoMarks))
		Expect(err).To(MatchError(ContainSubstring("no read log")))
		Expect(r.Label(12)).To(BeEmpty())
	})

	It("hands out all pictures before a frame, also those that stand for none", func(ctx context.Context) {
		r := makeRun(false)
		count := func(f console.Frame) (n int) {
			Expect(r.Before(ctx, f, func(*screen.Screen) error { n++; return nil })).To(Succeed())
			return n
		}
		Expect(count(28)).To(Equal(28)) // 0 to 27, and 25 and 26 among them
		Expect(count(27)).To(Equal(25)) // 25 and 26 may be of frame 27
	})
})
