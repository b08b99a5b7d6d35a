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

// dim is bright that cannot tell below level 20, and reads the level.
type dim struct{ bright }

func (dim) Look(s *screen.Screen) (checks.Sight, error) {
	if s.Y[0] < 20 {
		return checks.Sight{Unsure: true, Score: 0.1, Threshold: 0.5, Why: "too dim"}, nil
	}
	sight, err := bright{}.Look(s)
	sight.Value, sight.By, sight.Noise = int(s.Y[0]), "default", 2
	return sight, err
}

func (d dim) Explain(s *screen.Screen) (checks.Sight, error) { return d.Look(s) }

var _ = Describe("a picture that does not tell", func() {
	film := func(cp specs.Checkpoint, c checks.Check, from, to console.Frame, levels ...byte) judge.Result {
		j := judge.NewJob(cp, c, from, to, nil)
		for i, y := range levels {
			if y > 0 {
				ExpectWithOffset(1, j.Look(from+console.Frame(i), level(y))).To(Succeed())
			}
		}
		return j.Settle(&clock.Clock{State: clock.Measured})
	}
	one, every := specs.Checkpoint{}, specs.Checkpoint{Every: true}

	It("is unseen, shows the picture and says why", func() {
		r := film(one, dim{}, 5, 5, 10)
		Expect(r.Verdict).To(Equal(judge.Unseen))
		Expect(r.Why).To(Equal("too dim"))
		Expect(r.Unsure).To(Equal(1))
		Expect(r.Missed).To(Equal(1))
		Expect(r.Seen).NotTo(BeNil())
		Expect(r.Frame).To(BeEquivalentTo(5))
		Expect(r.Value).To(BeNil())
		r = film(one, dim{}, 5, 6, 10, 10)
		Expect(r.Why).To(Equal("none of the 2 pictures of frames 5 to 6 tells; the first: too dim"))
	})

	It("never makes a pass or a fail out of the rest of a range", func() {
		r := film(one, dim{}, 5, 7, 10, 50, 60)
		Expect(r.Verdict).To(Equal(judge.Unseen))
		Expect(r.Why).To(Equal("it holds in no picture of frames 5 to 7, and 1 of these 3 frames had none that tells (1 did not: frame 5: too dim); nearest: level 60"))
		Expect(r.Frame).To(BeEquivalentTo(7), "not the one that does not tell")
		Expect(film(one, dim{}, 5, 7, 10, 50, 150).Verdict).To(Equal(judge.Pass))
		r = film(every, dim{}, 5, 7, 150, 10, 160)
		Expect(r.Verdict).To(Equal(judge.Unseen))
		Expect(film(specs.Checkpoint{Every: true, Unseen: 1}, dim{}, 5, 7, 150, 10, 160).Verdict).To(Equal(judge.Pass))
		Expect(film(every, dim{}, 5, 7, 10, 50, 160).Verdict).To(Equal(judge.Fail))
	})

	It("leaves value, threshold and its origin of those that tell", func() {
		r := film(one, dim{}, 5, 5, 150)
		Expect(r.Value).To(Equal(150))
		Expect(r.ThresholdBy).To(Equal("default"))
		Expect(r.Noise).To(Equal(2.0))
		Expect(r.Unsure).To(BeZero())
	})
})

var _ = Describe("a kind that judges its range together", func() {
	// pic is a screen with a square at x.
	pic := func(x int) *screen.Screen {
		s := screen.New(64, 64)
		for y := 16; y < 32; y++ {
			for dx := range 16 {
				s.Y[y*64+x+dx] = 200
			}
		}
		return s
	}
	film := func(cp specs.Checkpoint, c checks.Check, xs ...int) judge.Result {
		j := judge.NewJob(cp, c, 10, 9+console.Frame(len(xs)), nil)
		for i, x := range xs {
			if x >= 0 {
				ExpectWithOffset(1, j.Look(10+console.Frame(i), pic(x))).To(Succeed())
			}
		}
		return j.Settle(&clock.Clock{State: clock.Measured})
	}

	It("holds when nothing changes, and fails at the first frame that differs", func() {
		Expect(film(specs.Checkpoint{}, checks.NewStill(0), 8, 8, 8).Verdict).To(Equal(judge.Pass))
		r := film(specs.Checkpoint{}, checks.NewStill(0), 8, 8, 20, 8, 30)
		Expect(r.Verdict).To(Equal(judge.Fail))
		Expect(r.Frame).To(BeEquivalentTo(12))
		Expect(r.Why).To(HavePrefix("differs from frame 10 in [8, 16, 32, 16]"))
		Expect(r.Box.Min.X).To(Equal(8))
	})

	It("counts unseen frames like every does", func() {
		Expect(film(specs.Checkpoint{}, checks.NewStill(0), 8, -1, 8).Verdict).To(Equal(judge.Unseen))
		Expect(film(specs.Checkpoint{Unseen: 1}, checks.NewStill(0), 8, -1, 8).Verdict).To(Equal(judge.Pass))
		Expect(film(specs.Checkpoint{Unseen: 1}, checks.NewStill(0), 8, -1, 20).Verdict).To(Equal(judge.Fail))
	})

	It("finds a stretch in a range, and is unseen when it may lie in what is unseen", func() {
		r := film(specs.Checkpoint{}, checks.NewStill(3), 8, 20, 20, 20, 8)
		Expect(r.Verdict).To(Equal(judge.Pass))
		Expect(r.Frame).To(BeEquivalentTo(13))
		Expect(r.Value).To(Equal(3))
		Expect(film(specs.Checkpoint{}, checks.NewStill(3), 8, 20, 20, 8, 20).Verdict).To(Equal(judge.Fail))
		Expect(film(specs.Checkpoint{}, checks.NewStill(3), 8, 20, 20, -1, 8).Verdict).To(Equal(judge.Unseen))
	})

	It("begins anew in every run", func() {
		c := checks.NewStill(0)
		Expect(film(specs.Checkpoint{}, c, 8, 8).Verdict).To(Equal(judge.Pass))
		Expect(film(specs.Checkpoint{}, c, 20, 20).Verdict).To(Equal(judge.Pass))
	})
})
