package judge_test

import (
	"fmt"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/checks"
	"latchproof/harness/clock"
	"latchproof/harness/judge"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

// bright is a check that holds on screens whose first pixel is above 100; its
// score is that pixel's luma over 200.
type bright struct{}

func (bright) Kind() string        { return "bright" }
func (bright) Prepare() error      { return nil }
func (bright) Templates() []string { return nil }
func (bright) Describe() string    { return "bright" }
func (bright) Look(s *screen.Screen) (checks.Sight, error) {
	score := float64(s.Y[0]) / 200
	return checks.Sight{Holds: score > 0.5, Found: score > 0.5, Score: score, Threshold: 0.5, Why: fmt.Sprintf("level %d", s.Y[0])}, nil
}
func (b bright) Explain(s *screen.Screen) (checks.Sight, error) {
	sight, err := b.Look(s)
	sight.Why += ", explained"
	return sight, err
}

func level(y byte) *screen.Screen {
	s := screen.New(1, 1)
	s.Y[0] = y
	return s
}

// seen are the levels of the frames of which there is a picture; near are
// pictures that may be of that frame or a neighbour.
func judged(cp specs.Checkpoint, from, to console.Frame, seen, near map[console.Frame]byte) judge.Result {
	GinkgoHelper()
	j := judge.NewJob(cp, bright{}, from, to, nil)
	for f := console.Frame(0); f < 100; f++ {
		if y, ok := seen[f]; ok {
			Expect(j.Look(f, level(y))).To(Succeed())
		}
		if y, ok := near[f]; ok {
			Expect(j.LookNear(f, level(y))).To(Succeed())
		}
	}
	return j.Settle(&clock.Clock{State: clock.Measured})
}

var _ = Describe("a checkpoint", func() {
	none := map[console.Frame]byte{}
	one := specs.Checkpoint{}
	every := specs.Checkpoint{Every: true}

	It("at one frame passes, fails or is unseen by that frame alone", func() {
		r := judged(one, 5, 5, map[console.Frame]byte{4: 0, 5: 150, 6: 0}, none)
		Expect(r.Verdict).To(Equal(judge.Pass))
		Expect(r.Frame).To(BeEquivalentTo(5))
		Expect(*r.Score).To(Equal(0.75))
		r = judged(one, 5, 5, map[console.Frame]byte{4: 150, 5: 20, 6: 150}, none)
		Expect(r.Verdict).To(Equal(judge.Fail))
		Expect(r.Why).To(Equal("level 20, explained"))
		r = judged(one, 5, 5, map[console.Frame]byte{4: 150, 6: 150}, none)
		Expect(r.Verdict).To(Equal(judge.Unseen))
		Expect(r.Why).To(HavePrefix("no picture of frame 5"))
		Expect(r.Seen).To(BeNil())
	})

	It("at one frame takes no picture that may be of a neighbour", func() {
		r := judged(one, 5, 5, none, map[console.Frame]byte{5: 150})
		Expect(r.Verdict).To(Equal(judge.Unseen))
	})

	It("over a range needs one frame that holds, and shows it", func() {
		r := judged(one, 5, 8, map[console.Frame]byte{5: 0, 6: 0, 7: 140}, none)
		Expect(r.Verdict).To(Equal(judge.Pass))
		Expect(r.Frame).To(BeEquivalentTo(7))
	})

	It("over a range fails only when all its frames were seen", func() {
		r := judged(one, 5, 7, map[console.Frame]byte{5: 10, 6: 90, 7: 20}, none)
		Expect(r.Verdict).To(Equal(judge.Fail))
		Expect(r.Frame).To(BeEquivalentTo(6), "the frame nearest to holding is shown")
		r = judged(one, 5, 7, map[console.Frame]byte{5: 10, 6: 90}, none)
		Expect(r.Verdict).To(Equal(judge.Unseen))
		Expect(r.Missed).To(Equal(1))
	})

	It("with every fails at the first frame that does not hold", func() {
		r := judged(every, 5, 8, map[console.Frame]byte{5: 150, 6: 30, 7: 0, 8: 150}, none)
		Expect(r.Verdict).To(Equal(judge.Fail))
		Expect(r.Frame).To(BeEquivalentTo(6))
	})

	It("with every is unseen with one frame more missing than it may have", func() {
		seen := map[console.Frame]byte{5: 150, 7: 120, 8: 150}
		r := judged(every, 5, 8, seen, none)
		Expect(r.Verdict).To(Equal(judge.Unseen))
		r = judged(specs.Checkpoint{Every: true, Unseen: 1}, 5, 8, seen, none)
		Expect(r.Verdict).To(Equal(judge.Pass))
		Expect(r.Frame).To(BeEquivalentTo(7), "the frame nearest to failing is shown")
	})

	It("with every counts a picture at a boundary when both frames are in the range", func() {
		seen := map[console.Frame]byte{5: 150, 7: 150, 8: 150}
		Expect(judged(every, 5, 8, seen, map[console.Frame]byte{6: 150}).Verdict).To(Equal(judge.Pass))
		Expect(judged(every, 5, 8, seen, map[console.Frame]byte{6: 10}).Verdict).To(Equal(judge.Fail))
		seen = map[console.Frame]byte{6: 150, 7: 150, 8: 150}
		Expect(judged(every, 5, 8, seen, map[console.Frame]byte{5: 150}).Verdict).To(Equal(judge.Unseen), "it may be of frame 4")
		Expect(judged(every, 5, 8, seen, map[console.Frame]byte{5: 10}).Verdict).To(Equal(judge.Unseen), "it may be of frame 4")
	})

	It("is unseen with an untrusted clock, and carries the word of an assumed one", func() {
		j := judge.NewJob(one, bright{}, 5, 5, nil)
		Expect(j.Look(5, level(150))).To(Succeed())
		r := j.Settle(&clock.Clock{State: clock.Untrusted, Why: "it rains"})
		Expect(r.Verdict).To(Equal(judge.Unseen))
		Expect(r.Why).To(ContainSubstring("it rains"))
		r = j.Settle(&clock.Clock{State: clock.Assumed})
		Expect(r.Verdict).To(Equal(judge.Pass))
		Expect(r.Clock).To(Equal("assumed"))
	})

	It("whose mark has no read in this run is unseen", func() {
		j := judge.NewJob(one, bright{}, 0, 0, fmt.Errorf("%w: read 900", specs.ErrNoRead))
		Expect(j.Look(0, level(150))).To(Succeed())
		r := j.Settle(&clock.Clock{State: clock.Measured})
		Expect(r.Verdict).To(Equal(judge.Unseen))
		Expect(r.Why).To(ContainSubstring("read 900"))
	})
})

var _ = DescribeTable("verdicts are joined", func(want judge.Verdict, vs ...judge.Verdict) {
	Expect(judge.Worst(vs...)).To(Equal(want))
},
	Entry("none", judge.Pass),
	Entry("passes", judge.Pass, judge.Pass, judge.Pass),
	Entry("unseen is no pass", judge.Unseen, judge.Pass, judge.Unseen),
	Entry("a fail is sure", judge.Fail, judge.Unseen, judge.Fail, judge.Pass),
)
