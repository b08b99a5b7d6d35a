package judge_test

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/checks"
	"latchproof/harness/clock"
	"latchproof/harness/judge"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

// lamp is a check that finds something on screens whose level is in a range,
// and cannot tell at level 7.
type lamp struct {
	bright
	low, high byte
	name      string
}

func (l lamp) Label() string { return l.name }

func (l lamp) Look(s *screen.Screen) (checks.Sight, error) {
	if s.Y[0] == 7 {
		return checks.Sight{Unsure: true}, nil
	}
	found := s.Y[0] >= l.low && s.Y[0] <= l.high
	sight := checks.Sight{Found: found, Holds: found, Threshold: 0.9}
	if found {
		sight.Score = 1
	} else if s.Y[0]+10 >= l.low && s.Y[0] < l.low {
		sight.Score = 0.85 // nearly
	}
	return sight, nil
}

var _ = Describe("timing", func() {
	// The rate is that of the NTSC-family console of package console, whose tests
	// derive it.
	rate := console.Rate{Num: 39375000, Den: 655171}
	banner := lamp{low: 10, high: 19, name: "banner"}
	bell := lamp{low: 200, high: 255, name: "bell"}
	gone := func(l lamp) specs.Event { return specs.Event{Key: "gone", Check: l} }
	shows := func(l lamp) specs.Event { return specs.Event{Key: "shows", Check: l} }
	at := func(f int64) specs.Event { return specs.Event{Key: "at", At: specs.Moment{Offset: f}} }

	// measure gives the timing over a film of levels; 0 is a frame without a
	// picture.
	measure := func(from, to specs.Event, film ...byte) *judge.Timing {
		t := judge.NewTimer(from, to, rate)
		for f, y := range film {
			if y > 0 {
				ExpectWithOffset(1, t.Look(console.Frame(f), level(y))).To(Succeed())
			}
		}
		return t.Settle(&clock.Clock{State: clock.Measured}, console.Frame(len(film)-1))
	}

	It("counts frames between events, and seconds at the exact rate", func() {
		t := measure(gone(banner), shows(bell), 50, 12, 12, 50, 50, 50, 50, 250, 250)
		Expect(t.Verdict).To(Equal(judge.Pass))
		Expect(*t).To(Equal(judge.Timing{
			Verdict: judge.Pass, Frames: 4, Low: 4, High: 4,
			Seconds: 4 * 655171 / 39375000.0, SecondsLow: 4 * 655171 / 39375000.0, SecondsHigh: 4 * 655171 / 39375000.0,
			From: &judge.EventTime{Event: "banner goes", Frame: 3, Since: 3},
			To:   &judge.EventTime{Event: "bell appears", Frame: 7, Since: 7},
			Why:  "4 frames from banner goes (frame 3) to bell appears (frame 7)",
		}))
		Expect(measure(at(2), shows(bell), 50, 50, 50, 250).Frames).To(BeEquivalentTo(1))
		Expect(measure(shows(banner), at(6), 50, 12, 12, 50, 50, 50, 50).Frames).To(BeEquivalentTo(5))
		Expect(measure(at(2), at(6), 50, 50, 50, 50, 50, 50, 50).Why).To(Equal("4 frames from frame 2 (frame 2) to frame 6 (frame 6)"))
	})

	It("tells what frames without a picture leave open", func() {
		t := measure(gone(banner), shows(bell), 50, 12, 0, 0, 50, 50, 50, 0, 250)
		Expect([]int64{t.Frames, t.Low, t.High}).To(Equal([]int64{4, 3, 6}))
		Expect(*t.From).To(Equal(judge.EventTime{Event: "banner goes", Frame: 4, Since: 2}))
		Expect(*t.To).To(Equal(judge.EventTime{Event: "bell appears", Frame: 8, Since: 7}))
		Expect(t.Why).To(HaveSuffix("; 3 to 6, for frames before that had no picture that tells"))
		t = measure(gone(banner), shows(bell), 50, 12, 7, 7, 50, 50, 50, 7, 250)
		Expect([]int64{t.Frames, t.Low, t.High}).To(Equal([]int64{4, 3, 6}), "what cannot be told is as good as unseen")
		t = measure(gone(banner), shows(bell), 12, 0, 250)
		Expect([]int64{t.Frames, t.Low, t.High}).To(Equal([]int64{0, 0, 1}))
	})

	It("does not trust a score that nearly reaches its threshold", func() {
		// 195 is nearly the bell, and may be where it truly appeared.
		t := measure(gone(banner), shows(bell), 50, 12, 50, 50, 195, 195, 50, 50, 250, 250)
		Expect([]int64{t.Frames, t.Low, t.High}).To(Equal([]int64{6, 2, 6}))
		t = measure(gone(banner), shows(bell), 50, 12, 50, 50, 195, 195, 50, 50)
		Expect(t.Verdict).To(Equal(judge.Unseen))
		// 5 is nearly the banner: it has not surely gone.
		t = measure(gone(banner), shows(bell), 50, 12, 5, 5, 50, 50, 250)
		Expect([]int64{t.Frames, t.Low, t.High}).To(Equal([]int64{2, 2, 4}))
		Expect(*t.From).To(Equal(judge.EventTime{Event: "banner goes", Frame: 4, Since: 2}))
	})

	It("takes an appearance, not what was there before", func() {
		Expect(measure(gone(banner), shows(bell), 250, 12, 50, 50, 250).Frames).To(BeEquivalentTo(2))
		Expect(measure(gone(banner), shows(lamp{low: 1, high: 255, name: "all"}), 12, 12, 50, 50).Verdict).To(Equal(judge.Fail))
		Expect(measure(shows(bell), shows(bell), 50, 250, 250, 50, 250).Frames).To(BeEquivalentTo(3))
		Expect(measure(shows(bell), gone(bell), 250, 250, 250, 50).Frames).To(BeEquivalentTo(3))
		Expect(measure(gone(banner), shows(lamp{low: 50, high: 50, name: "street"}), 12, 12, 50, 50).Frames).To(BeZero())
	})

	It("fails when an event surely did not happen, and is unseen when it may have", func() {
		t := measure(gone(banner), shows(bell), 12, 12, 50, 50)
		Expect(t.Verdict).To(Equal(judge.Fail))
		Expect(t.Why).To(Equal("bell appears in no picture of the run"))
		t = measure(gone(banner), shows(bell), 12, 12, 50, 0, 50, 0)
		Expect(t.Verdict).To(Equal(judge.Unseen))
		Expect(t.Why).To(Equal("bell appears in no picture of the run, and 2 frames had none that tells"))
		Expect(t.To).To(BeNil())
		Expect(t.From).NotTo(BeNil())
		Expect(measure(gone(banner), shows(bell), 50, 50).Why).To(HavePrefix("banner goes in no picture"))
		t = measure(shows(bell), at(1), 50, 50, 50, 250)
		Expect(t.Verdict).To(Equal(judge.Fail))
		Expect(t.Why).To(Equal("frame 1 on frame 1, before bell appears on frame 3"))
	})

	It("says nothing by a clock that is not trusted, and says when it is assumed", func() {
		t := judge.NewTimer(at(1), at(3), rate)
		bad := t.Settle(&clock.Clock{State: clock.Untrusted, Why: "it rains"}, 9)
		Expect(bad.Verdict).To(Equal(judge.Unseen))
		Expect(bad.Why).To(Equal("the frame clock is not trusted: it rains"))
		Expect(t.Settle(&clock.Clock{State: clock.Assumed}, 9).Clock).To(Equal("assumed"))
		Expect(t.Settle(&clock.Clock{State: clock.Measured}, 9).Clock).To(BeEmpty())
	})
})
