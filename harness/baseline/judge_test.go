package baseline_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/baseline"
)

// numbers are those of a healthy run whose board tells its service latency.
func numbers(jitter float64) baseline.Numbers {
	return baseline.Numbers{JitterUS: jitter, ServiceMedianUS: 3, ServiceWorstUS: 4, Reads: 200, LagFrames: 2, DoubleReads: 5}
}

// side has runs of which some part at frame 50; the reference, if it has one, is
// not among the lifetimes.
func side(runs, parted int, reference bool) baseline.Side {
	var s baseline.Side
	for i := range runs {
		s.Numbers = append(s.Numbers, numbers(8+0.01*float64(i)))
		s.Held++
		if i == 0 && reference {
			continue
		}
		l := baseline.Life{Frame: 199}
		if len(s.Lives) < parted {
			l = baseline.Life{Frame: 50, Parted: true}
		}
		s.Lives = append(s.Lives, l)
	}
	return s
}

func evidence(base, cand, parted int) baseline.Evidence {
	return baseline.Evidence{Name: "a", Baseline: side(base, 0, true), Candidate: side(cand, parted, false)}
}

func judged(e ...baseline.Evidence) baseline.Verdicts {
	GinkgoHelper()
	v, err := baseline.Judge(e, baseline.DefaultOptions())
	Expect(err).NotTo(HaveOccurred())
	return v
}

func row(v baseline.Verdicts, what string) baseline.Row {
	GinkgoHelper()
	for _, r := range v.Specs[0].Rows {
		if r.What == what {
			return r
		}
	}
	Fail("no row " + what)
	return baseline.Row{}
}

var _ = Describe("judging a candidate", func() {
	// With none parted the upper limit is Wilson's, z²/(n+z²) with z = 1.6449 for
	// 95 % one-sided: 0.1013 for 24 and 0.0977 for 25.
	It("calls 25 clean repeats no worse by a margin of 10 %, and asks for one more at 24", func() {
		v := judged(evidence(5, 25, 0))
		Expect(v.Verdict).To(Equal(baseline.NoWorse), "%+v", v)
		z2 := 1.6448536269514722 * 1.6448536269514722
		Expect(*row(v, baseline.RowLockstep).Limit).To(BeNumerically("~", z2/(25+z2), 1e-9))
		v = judged(evidence(5, 24, 0))
		Expect(v.Verdict).To(Equal(baseline.CannotTell))
		Expect(v.Need).To(Equal(baseline.Need{Candidate: 1}))
	})

	It("calls 5 of 5 that part worse than none of 4", func() {
		v := judged(evidence(5, 5, 5))
		Expect(v.Verdict).To(Equal(baseline.Worse))
		r := row(v, baseline.RowLockstep)
		Expect(r.Verdict).To(Equal(baseline.Worse))
		// One naming in choose(9, 4) = 126, and five tests could have come out:
		// lockstep, survival, and three times.
		Expect(r.P).To(BeNumerically("~", 1.0/126, 1e-12))
		Expect(v.Tests).To(Equal(5))
		Expect(r.Adjusted).To(BeNumerically("~", 5.0/126, 1e-12))
	})

	It("corrects for the tests of all specs", func() {
		var all []baseline.Evidence
		for i := range 8 {
			e := evidence(5, 5, 0)
			if i == 3 {
				e = evidence(5, 5, 5)
			}
			e.Name = fmt.Sprint(i)
			all = append(all, e)
		}
		v := judged(all...)
		Expect(v.Tests).To(Equal(26)) // three times of each spec, lockstep and survival of one
		Expect(v.Verdict).To(Equal(baseline.CannotTell))
	})

	It("counts what is not known against the candidate, but not as worse", func() {
		e := evidence(5, 25, 0)
		e.Candidate.Left = 1
		v := judged(e)
		Expect(v.Verdict).To(Equal(baseline.CannotTell))
		Expect(row(v, baseline.RowLockstep).Tested).To(BeFalse())
		e = evidence(5, 5, 0)
		for i := range e.Candidate.Lives {
			e.Candidate.Lives[i] = baseline.Life{Frame: 60, Cut: true}
		}
		v = judged(e)
		Expect(v.Verdict).To(Equal(baseline.CannotTell))
		Expect(row(v, baseline.RowLockstep).Candidate).To(Equal("0 of 0 parted, 5 not known"))
	})

	It("says how many more repeats would do, and no fewer would", func() {
		for _, parted := range []int{1, 2, 4} {
			e := evidence(8, 12, parted)
			n := judged(e).Need
			Expect(n.Baseline).To(BeZero())
			Expect(n.Beyond).To(BeFalse())
			grown := func(more int) baseline.Verdict {
				x := e
				x.Candidate = side(12+more, parted, false)
				return judged(x).Verdict
			}
			Expect(grown(int(n.Candidate))).To(Equal(baseline.NoWorse), "%d parted, %d more", parted, n.Candidate)
			Expect(grown(int(n.Candidate)-1)).To(Equal(baseline.CannotTell), "%d parted, %d more", parted, n.Candidate)
		}
	})

	It("asks for runs of the baseline when those are what lacks", func() {
		// Two against any number cannot show that times are within their margin when
		// they overlap with it.
		e := evidence(2, 40, 0)
		for i := range e.Candidate.Numbers {
			e.Candidate.Numbers[i].JitterUS = 6 + 0.15*float64(i) // up to 11.85; the margin is 10
		}
		v := judged(e)
		Expect(v.Verdict).To(Equal(baseline.CannotTell))
		Expect(v.Need.Baseline).To(BeNumerically(">", 0))
		Expect(v.Need.Beyond).To(BeFalse())
	})

	It("says so when no number of repeats would do", func() {
		e := evidence(5, 30, 0)
		for i := range e.Candidate.Numbers {
			e.Candidate.Numbers[i].JitterUS = 9.9 + 0.02*float64(i) // half of them beyond 10.05
		}
		v := judged(e)
		Expect(v.Verdict).To(Equal(baseline.CannotTell))
		Expect(v.Need.Beyond).To(BeTrue())
	})

	DescribeTable("what is worse", func(what string, change func(*baseline.Numbers)) {
		e := evidence(8, 26, 0)
		for i := range e.Candidate.Numbers {
			change(&e.Candidate.Numbers[i])
		}
		v := judged(e)
		Expect(v.Verdict).To(Equal(baseline.Worse))
		for _, r := range v.Specs[0].Rows {
			if r.What == what {
				Expect(r.Verdict).To(Equal(baseline.Worse), r.What)
			} else {
				Expect(r.Verdict).To(Equal(baseline.NoWorse), r.What)
			}
		}
	},
		Entry("jitter", baseline.RowJitter, func(n *baseline.Numbers) { n.JitterUS *= 1.5 }),
		Entry("service", baseline.RowService, func(n *baseline.Numbers) { n.ServiceMedianUS = 6 }),
		Entry("the worst service", baseline.RowWorst, func(n *baseline.Numbers) { n.ServiceWorstUS = 9 }),
		Entry("odd clocks", baseline.RowClocks, func(n *baseline.Numbers) { n.OddClocks = 1 }),
		Entry("underruns", baseline.RowUnderruns, func(n *baseline.Numbers) { n.Underruns = 2 }),
		Entry("late serves", baseline.RowLate, func(n *baseline.Numbers) { n.LateServes = 1 }),
		Entry("lag frames", baseline.RowReads, func(n *baseline.Numbers) { n.LagFrames++ }),
		Entry("fewer reads", baseline.RowReads, func(n *baseline.Numbers) { n.Reads-- }),
	)

	It("lets times be longer within their margin", func() {
		e := evidence(8, 26, 0)
		for i := range e.Candidate.Numbers {
			n := &e.Candidate.Numbers[i]
			n.JitterUS, n.ServiceMedianUS, n.ServiceWorstUS = n.JitterUS*1.15, 4.7, 5.9
		}
		Expect(judged(e).Verdict).To(Equal(baseline.NoWorse))
	})

	It("does not ask what a side does not tell, and says so", func() {
		e := evidence(8, 26, 0)
		for i := range e.Baseline.Numbers {
			n := &e.Baseline.Numbers[i]
			n.ServiceMedianUS, n.ServiceWorstUS, n.LateServes = math.NaN(), math.NaN(), -1
		}
		v := judged(e)
		Expect(v.Verdict).To(Equal(baseline.NoWorse))
		Expect(v.Specs[0].Notes).To(ConsistOf(
			"service median cannot be compared: the baseline's runs do not tell it",
			"service worst cannot be compared: the baseline's runs do not tell it",
			"late serves cannot be compared: not both benches tell them"))
	})

	It("counts failed checkpoints, and unseen ones as unknown", func() {
		e := evidence(8, 26, 0)
		e.Candidate.Held, e.Candidate.Unseen = 25, 1
		Expect(row(judged(e), baseline.RowCheckpoints).Verdict).To(Equal(baseline.CannotTell))
		e.Candidate.Held, e.Candidate.Failed, e.Candidate.Unseen = 6, 20, 0
		Expect(row(judged(e), baseline.RowCheckpoints).Verdict).To(Equal(baseline.Worse))
	})

	It("cannot tell anything of nothing", func() {
		Expect(judged().Verdict).To(Equal(baseline.CannotTell))
		Expect(judged(baseline.Evidence{Name: "a"}).Verdict).To(Equal(baseline.CannotTell))
		Expect(judged(evidence(5, 0, 0)).Verdict).To(Equal(baseline.CannotTell))
	})

	It("refuses options that mean nothing", func() {
		for _, o := range []baseline.Options{{}, {Alpha: 0.5, Margin: 0.1, Times: 1}, {Alpha: 0.05, Margin: 1, Times: 1},
			{Alpha: 0.05, Margin: 0.1, Times: 0.5}, {Alpha: math.NaN(), Margin: 0.1, Times: 1}} {
			_, err := baseline.Judge(nil, o)
			Expect(err).To(MatchError(baseline.ErrOptions))
		}
	})

	It("calls no more than its share worse when nothing has changed", func() {
		trials := 600
		if testing.Short() {
			trials = 60
		}
		rng := rand.New(rand.NewPCG(7, 8))
		worse := 0
		for range trials {
			var all []baseline.Evidence
			for range 1 + rng.IntN(3) {
				rate, odd := rng.Float64()*0.6, rng.Float64()*0.5
				draw := func(n int, reference bool) (s baseline.Side) {
					for i := range n {
						x := numbers(8 * math.Exp(0.1*rng.NormFloat64()))
						if rng.Float64() < odd {
							x.OddClocks = 1
						}
						s.Numbers = append(s.Numbers, x)
						if i == 0 && reference {
							continue
						}
						l := baseline.Life{Frame: 199}
						if rng.Float64() < rate {
							l = baseline.Life{Frame: float64(rng.IntN(199)), Parted: true}
						}
						s.Lives = append(s.Lives, l)
					}
					return s
				}
				all = append(all, baseline.Evidence{Baseline: draw(4+rng.IntN(12), true), Candidate: draw(3+rng.IntN(15), false)})
			}
			if judged(all...).Verdict == baseline.Worse {
				worse++
			}
		}
		GinkgoWriter.Printf("%d of %d worse\n", worse, trials)
		// Three standard deviations of a count with a chance of 5 % each.
		n := float64(trials)
		Expect(float64(worse)).To(BeNumerically("<=", 0.05*n+3*math.Sqrt(0.05*0.95*n)))
	})
})
