package harness_test

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness"
	"latchproof/harness/lockstep"
	"latchproof/harness/stats"
	"latchproof/specs/console"
)

var _ = Describe("how long repeats stay in lockstep", func() {
	life := func(run string, frame console.Frame, d *lockstep.Divergence) lockstep.Life {
		if d != nil {
			d.Frame, d.A, d.B = frame, "repeat 1", run
		}
		return lockstep.Life{Run: run, Frame: frame, Parted: d}
	}

	It("counts what surely parted, and censors the rest", func() {
		lives := []lockstep.Life{
			life("repeat 2", 790, nil),
			life("repeat 3", 525, &lockstep.Divergence{Kind: lockstep.KindPicture}),
			life("repeat 4", 300, &lockstep.Divergence{Kind: lockstep.KindShift, Part: lockstep.PartCard}),
			life("repeat 5", 310, &lockstep.Divergence{Kind: lockstep.KindShift, Clocks: true}),
			life("repeat 6", 400, &lockstep.Divergence{Kind: lockstep.KindEnd, Part: lockstep.PartCard}),
			life("repeat 7", 410, &lockstep.Divergence{Kind: lockstep.KindEnd, Part: lockstep.PartConsole}),
			life("repeat 8", 20, &lockstep.Divergence{Kind: lockstep.KindPicture}),
			life("repeat 9", -1, nil),
		}
		Expect(harness.Lifetimes(lives, []string{"repeat 8"})).To(Equal([]stats.Lifetime{
			{Time: 790}, {Time: 525, Event: true}, {Time: 300}, {Time: 310}, {Time: 400}, {Time: 410, Event: true}, {Time: 20},
		}))
		for _, l := range harness.Lifetimes(lives, []string{"repeat 1"}) {
			Expect(l.Event).To(BeFalse(), "the clock of the reference is assumed")
		}
	})

	// The limits for no event among n are those of Clopper and Pearson (1934):
	// 0.025^(1/4) = 0.3976.
	It("speaks of the frame that all whole repeats reached", func() {
		s, err := harness.Survival([]stats.Lifetime{{Time: 790}, {Time: 793}, {Time: 795}, {Time: 794}}, 800)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Steps).To(HaveLen(2))
		Expect(s.Steps[0].Frame).To(BeZero())
		Expect(s.Steps[1].Frame).To(BeEquivalentTo(790))
		Expect(s.Steps[1].Cut).To(BeZero())
		Expect(s.Steps[1].Low).To(BeNumerically("~", 0.3976353643, 1e-9))
		Expect(s.Sentence).To(Equal("None of 4 further repeats parted from the first up to frame 790 (95 % limits for any further repeat: 39.8 % to 100 %)."))
	})

	It("tells of partings and of what was cut short", func() {
		s, err := harness.Survival([]stats.Lifetime{{Time: 790}, {Time: 525, Event: true}, {Time: 300}, {Time: 795}}, 800)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Parted).To(Equal(1))
		Expect(s.Cut).To(Equal(1))
		Expect(s.Steps[1].Frame).To(BeEquivalentTo(300))
		Expect(s.Steps[1].Cut).To(BeEquivalentTo(1))
		Expect(s.Steps[2].Frame).To(BeEquivalentTo(525))
		Expect(s.Steps[2].AtRisk).To(BeEquivalentTo(3))
		Expect(s.Steps[3].Frame).To(BeEquivalentTo(790))
		Expect(s.Steps[3].Survival).To(BeNumerically("~", 2./3, 1e-12))
		Expect(s.Sentence).To(HavePrefix("1 of 4 further repeats parted from the first, the earliest at frame 525; 66.7 % are still in lockstep at frame 790 (95 % limits for any further repeat: "))
		Expect(s.Sentence).To(HaveSuffix(" One was cut short at frame 300 by trouble of the capture and counts up to there."))
	})

	It("goes on to the last parting, also when no repeat is whole", func() {
		s, err := harness.Survival([]stats.Lifetime{{Time: 20, Event: true}, {Time: 20, Event: true}}, 800)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Steps).To(HaveLen(2))
		Expect(s.Steps[0].Survival).To(BeNumerically("==", 1))
		Expect(s.Steps[1].Survival).To(BeZero())
		s, err = harness.Survival([]stats.Lifetime{{Time: 20}}, 800)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Cut).To(Equal(1))
		s, err = harness.Survival(nil, 800)
		Expect(err).NotTo(HaveOccurred())
		Expect(s).To(BeNil())
	})
})
