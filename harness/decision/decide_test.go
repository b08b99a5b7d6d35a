package decision_test

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/clock"
	"latchproof/harness/decision"
	"latchproof/harness/judge"
	"latchproof/harness/lockstep"
	"latchproof/harness/record"
	"latchproof/specs/console"
)

// scene is everything that is decided from. As made, it is certified.
type scene struct {
	policy decision.Policy
	claim  decision.Claim
	runs   []decision.RunFacts
	steps  lockstep.Result
}

// verdicts of a run that holds: two checkpoints and a time of 100 frames.
func verdicts() judge.RunVerdict {
	return judge.RunVerdict{
		Checkpoints: []judge.Result{{Name: "gate", Verdict: judge.Pass}, {Name: "bell", Verdict: judge.Pass}},
		Timing: &judge.Timing{
			Verdict: judge.Pass, Frames: 100, Low: 100, High: 100,
			From: &judge.EventTime{Frame: 20, Since: 20}, To: &judge.EventTime{Frame: 120, Since: 120},
		},
		Clock: clock.Summary{State: clock.Measured}, Captured: judge.Counts{Pictures: 200},
	}
}

func runName(bench string, n int) string { return fmt.Sprintf("runs/%s/run-%03d", bench, n) }

// meta is the record of a run that holds.
func meta(bench string) record.Meta {
	return record.Meta{
		State: record.Sealed, Program: record.ProgramInfo{Hash: "abc"},
		Bench: []byte(`{"name":"x","card":{"model":"card","serial":"` + bench + `"}}`), Board: &record.Board{Serial: "F1"},
	}
}

func good(benches ...string) *scene {
	s := &scene{
		policy: decision.Policy{House: "Linden Street", Repeats: 3, Lockstep: 3, Benches: len(benches), Ties: "earlier"},
		claim: decision.Claim{
			Claim: "reaches the bell", By: "Ada", Category: "first-lamp", Frames: 100, Program: "abc", Checkpoints: []string{"gate", "bell"},
			Rate: decision.RateOf(console.Rate{Num: 60, Den: 1}),
		},
	}
	s.steps.Families = []lockstep.Family{{Parent: -1}}
	s.steps.Frames = 150
	for _, b := range benches {
		for n := 1; n <= s.policy.Repeats; n++ {
			f := decision.Facts(runName(b, n), b, meta(b), verdicts())
			s.runs = append(s.runs, f)
			s.steps.Runs = append(s.steps.Runs, f.Name)
			s.steps.Families[0].Runs = append(s.steps.Families[0].Runs, f.Name)
			if len(s.runs) > 1 {
				s.steps.Lives = append(s.steps.Lives, lockstep.Life{Run: f.Name, Frame: 149})
			}
		}
	}
	return s
}

// again makes the facts of a run anew from changed verdicts or a changed record.
func (s *scene) again(run string, change func(m *record.Meta, v *judge.RunVerdict)) {
	at := s.at(run)
	m, v := meta(s.runs[at].Bench), verdicts()
	change(&m, &v)
	s.runs[at] = decision.Facts(run, s.runs[at].Bench, m, v)
}

func (s *scene) at(run string) int {
	GinkgoHelper()
	at := slices.IndexFunc(s.runs, func(r decision.RunFacts) bool { return r.Name == run })
	Expect(at).NotTo(Equal(-1))
	return at
}

// part makes a run part from the first.
func (s *scene) part(run string, d lockstep.Divergence) {
	GinkgoHelper()
	d.A, d.B = s.runs[0].Name, run
	f := &s.steps.Families[0]
	f.Runs = slices.DeleteFunc(f.Runs, func(n string) bool { return n == run })
	s.steps.Families = append(s.steps.Families, lockstep.Family{Runs: []string{run}, From: d.Frame, Parted: &d})
	at := slices.IndexFunc(s.steps.Lives, func(l lockstep.Life) bool { return l.Run == run })
	Expect(at).NotTo(Equal(-1))
	s.steps.Lives[at].Frame, s.steps.Lives[at].Parted = d.Frame, &d
	if s.steps.Divergence == nil || d.Frame < s.steps.Divergence.Frame {
		s.steps.Divergence = &d
	}
}

// leave takes a run out of the comparison.
func (s *scene) leave(run string) {
	gone := func(n string) bool { return n == run }
	s.steps.Runs = slices.DeleteFunc(s.steps.Runs, gone)
	s.steps.Families[0].Runs = slices.DeleteFunc(s.steps.Families[0].Runs, gone)
	s.steps.Lives = slices.DeleteFunc(s.steps.Lives, func(l lockstep.Life) bool { return l.Run == run })
}

func (s *scene) decide() decision.Decision {
	return decision.Decide(s.policy, s.claim, s.runs, s.steps)
}

func why(d decision.Decision) string {
	var out []string
	for _, r := range d.Reasons {
		out = append(out, fmt.Sprintf("%t %s %s", r.Certain, r.Run, r.Why))
	}
	return strings.Join(out, "\n")
}

var divergence = lockstep.Divergence{Frame: 60, Since: 60, Kind: lockstep.KindPicture, Part: lockstep.PartConsole, Why: "another picture"}

func timed(low, frames, high int64) func(*record.Meta, *judge.RunVerdict) {
	return func(_ *record.Meta, v *judge.RunVerdict) {
		v.Timing.Low, v.Timing.Frames, v.Timing.High = low, frames, high
	}
}

func failing(_ *record.Meta, v *judge.RunVerdict) {
	v.Checkpoints[1].Verdict, v.Checkpoints[1].Why = judge.Fail, "no bell"
}

func assumed(_ *record.Meta, v *judge.RunVerdict) { v.Clock.State = clock.Assumed }

const first, second, third = "runs/a/run-001", "runs/a/run-002", "runs/a/run-003"

var _ = Describe("what is certified", func() {
	It("is a claim of which everything holds, with the time that was measured", func() {
		d := good("a").decide()
		Expect(why(d)).To(BeEmpty())
		Expect(d.Outcome).To(Equal(decision.Certified))
		Expect(d.Code).To(Equal(0))
		Expect(*d.Measured).To(Equal(decision.Measured{Frames: 100, Low: 100, High: 100, Seconds: 100.0 / 60, From: 20, To: 120}))
		Expect(d.Benches).To(Equal([]decision.Bench{{Name: "a", Runs: []string{first, second, third}, Lockstep: 3}}))
		Expect(d.Lockstep.Compared).To(BeEquivalentTo(300))
		Expect(d.Notes).To(BeEmpty())
	})
	It("is one that is faster than claimed, with a note", func() {
		s := good("a")
		s.claim.Frames = 103
		d := s.decide()
		Expect(d.Code).To(Equal(0))
		Expect(d.Measured.Frames).To(BeEquivalentTo(100))
		Expect(d.Notes).To(ConsistOf("it takes 100 frames, 3 fewer than claimed"))
	})
	It("is one on two benches", func() {
		d := good("a", "b").decide()
		Expect(d.Code).To(Equal(0), why(d))
		Expect(d.Benches).To(HaveLen(2))
		Expect(d.Benches[1].Lockstep).To(Equal(3))
	})
	It("takes what the limits of all repeats together leave", func() {
		s := good("a")
		s.again(first, timed(98, 100, 101))
		s.again(second, timed(100, 102, 102))
		s.again(third, timed(97, 100, 100))
		d := s.decide()
		Expect(d.Code).To(Equal(0), why(d))
		Expect(d.Measured.Frames).To(BeEquivalentTo(100))
	})
	It("allows a repeat that parts when the house does, and does not count its time", func() {
		s := good("a")
		s.policy.Lockstep = 2
		s.part(third, divergence)
		s.again(third, timed(90, 90, 90))
		d := s.decide()
		Expect(d.Code).To(Equal(0), why(d))
		Expect(d.Measured.Frames).To(BeEquivalentTo(100))
		Expect(d.Notes).To(HaveLen(2))
	})
})

var _ = Describe("what is refused", func() {
	DescribeTable("with a code and a reason", func(code int, reason string, change func(*scene)) {
		s := good("a", "b")
		change(s)
		d := s.decide()
		Expect(d.Outcome).To(Equal(decision.Refused))
		Expect(d.Code).To(Equal(code), why(d))
		Expect(why(d)).To(ContainSubstring(reason))
		for _, r := range d.Reasons {
			if code == 3 {
				Expect(r.Certain).To(BeFalse())
			}
		}
	},
		Entry("a checkpoint fails", 1, `true runs/a/run-002 checkpoint "bell" fails: no bell`, func(s *scene) { s.again(second, failing) }),
		Entry("a checkpoint of the second bench fails", 1, `true runs/b/run-001 checkpoint "bell" fails`, func(s *scene) { s.again("runs/b/run-001", failing) }),
		Entry("a checkpoint fails by an assumed clock", 3, "its frames may be one off", func(s *scene) {
			s.again(second, func(m *record.Meta, v *judge.RunVerdict) { failing(m, v); assumed(m, v) })
		}),
		Entry("a checkpoint is unseen in one repeat", 3, `false runs/a/run-003 checkpoint "gate" is unseen`, func(s *scene) {
			s.again(third, func(_ *record.Meta, v *judge.RunVerdict) { v.Checkpoints[0].Verdict = judge.Unseen })
		}),
		Entry("a verdict is of no known kind", 3, `checkpoint "gate" is unseen`, func(s *scene) {
			s.again(third, func(_ *record.Meta, v *judge.RunVerdict) { v.Checkpoints[0].Verdict = "passed" })
		}),
		Entry("a checkpoint was not judged", 3, "not those of the spec", func(s *scene) {
			s.again(third, func(_ *record.Meta, v *judge.RunVerdict) { v.Checkpoints = v.Checkpoints[:1] })
		}),
		Entry("the timing is unseen", 3, "false runs/a/run-001 timing is unseen: no picture", func(s *scene) {
			s.again(first, func(_ *record.Meta, v *judge.RunVerdict) {
				v.Timing = &judge.Timing{Verdict: judge.Unseen, Why: "no picture"}
			})
		}),
		Entry("an event surely did not happen", 1, "true runs/a/run-001 timing fails", func(s *scene) {
			s.again(first, func(_ *record.Meta, v *judge.RunVerdict) { v.Timing = &judge.Timing{Verdict: judge.Fail} })
		}),
		Entry("no time was measured", 3, "no time was measured", func(s *scene) {
			s.again(second, func(_ *record.Meta, v *judge.RunVerdict) { v.Timing = nil })
		}),
		Entry("slower than claimed", 1, "it takes 100 frames, and 99 frames were claimed", func(s *scene) { s.claim.Frames = 99 }),
		Entry("surely slower, by how much is not known", 1, "it takes 100 to 102 frames", func(s *scene) {
			s.claim.Frames = 99
			for _, r := range s.runs {
				s.again(r.Name, timed(100, 101, 102))
			}
		}),
		Entry("the time is not one number", 3, "the time is 99 to 100 frames", func(s *scene) {
			for _, r := range s.runs {
				s.again(r.Name, timed(99, 100, 100))
			}
		}),
		Entry("the times of runs in lockstep contradict one another", 3, "contradict one another", func(s *scene) { s.again(second, timed(101, 101, 101)) }),
		Entry("a run parts", 1, "2 of 3 runs of the bench b are in lockstep", func(s *scene) { s.part("runs/b/run-002", divergence) }),
		Entry("a run parts for a doubtful reason", 3, "of 1 it cannot be told", func(s *scene) {
			s.part("runs/b/run-002", lockstep.Divergence{Kind: lockstep.KindShift, Part: lockstep.PartCard, Shift: 1})
		}),
		Entry("a run is ended by the card", 3, "of 1 it cannot be told", func(s *scene) {
			s.part("runs/b/run-002", lockstep.Divergence{Frame: 140, Kind: lockstep.KindEnd, Part: lockstep.PartCard})
		}),
		Entry("a run parts whose clock is assumed", 3, "of 1 it cannot be told", func(s *scene) {
			s.again(third, assumed)
			s.part(third, divergence)
		}),
		Entry("a clock is assumed", 3, "the frame clock is assumed, not measured", func(s *scene) { s.again(third, assumed) }),
		Entry("slower by an assumed clock", 3, "it seems to take 100 frames", func(s *scene) {
			s.claim.Frames = 99
			s.again(third, assumed)
		}),
		Entry("a clock is not trusted", 3, "the frame clock is untrusted, not measured: the reads jump", func(s *scene) {
			s.again(third, func(_ *record.Meta, v *judge.RunVerdict) {
				v.Clock.State, v.Clock.Why = clock.Untrusted, "the reads jump"
			})
			s.leave(third)
		}),
		Entry("a run could not be compared", 3, "it could not be compared", func(s *scene) { s.leave(third) }),
		Entry("the first run could not be compared", 3, "it could not be compared", func(s *scene) { s.leave(first) }),
		Entry("a run is partial", 3, "it stopped after latch pulse 7: unplugged", func(s *scene) {
			s.again(third, func(m *record.Meta, _ *judge.RunVerdict) {
				m.State, m.Stopped = record.Partial, &record.Stopped{Where: "after latch pulse 7", Why: "unplugged"}
			})
		}),
		Entry("the evidence is damaged", 3, "the evidence is damaged: a record is lost", func(s *scene) {
			s.again(third, func(m *record.Meta, _ *judge.RunVerdict) { m.Damage = []string{"a record is lost"} })
		}),
		Entry("the board had no data", 3, "no program data for 2 latch pulses", func(s *scene) {
			s.again(third, func(m *record.Meta, _ *judge.RunVerdict) { m.Underruns = []int64{4, 5} })
		}),
		Entry("nothing was captured", 3, "nothing was captured", func(s *scene) {
			s.again(third, func(_ *record.Meta, v *judge.RunVerdict) { v.Captured.Pictures = 0 })
		}),
		Entry("another program", 1, "another program", func(s *scene) {
			s.again(third, func(m *record.Meta, _ *judge.RunVerdict) { m.Program.Hash = "abd" })
		}),
		Entry("too few repeats", 3, "2 of 3 repeats were played on the bench b", func(s *scene) {
			s.leave("runs/b/run-003")
			s.runs = s.runs[:5]
		}),
		Entry("too few benches", 3, "on 1 of the 2 benches", func(s *scene) { *s = *good("a"); s.policy.Benches = 2 }),
		Entry("the same bench twice under two names", 3, "on 1 of the 2 benches", func(s *scene) {
			for _, r := range s.runs[3:] {
				s.again(r.Name, func(m *record.Meta, _ *judge.RunVerdict) { m.Bench = meta("a").Bench })
			}
		}),
		Entry("another board in between", 3, "other equipment", func(s *scene) {
			s.again(third, func(m *record.Meta, _ *judge.RunVerdict) { m.Board = &record.Board{Serial: "F2"} })
		}),
		Entry("nothing was played", 3, "nothing was played", func(s *scene) { s.runs, s.steps = nil, lockstep.Result{} }),
		Entry("it was last seen to agree long before the event", 3, "last seen to agree with the first run at frame 89", func(s *scene) {
			s.steps.Lives[1].Frame = 89
		}),
		Entry("what is sure outweighs what is not", 1, `is unseen`, func(s *scene) {
			s.claim.Frames = 99
			s.again(third, func(_ *record.Meta, v *judge.RunVerdict) { v.Checkpoints[0].Verdict = judge.Unseen })
		}),
	)

	It("says every reason", func() {
		s := good("a")
		s.claim.Frames = 50
		s.again(first, failing)
		s.again(second, assumed)
		s.part(third, divergence)
		d := s.decide()
		Expect(d.Reasons).To(HaveLen(4), why(d))
		Expect(d.Code).To(Equal(1))
	})

	It("holds to the last frame of agreement that is enough", func() {
		s := good("a")
		s.steps.Lives[1].Frame = 90
		Expect(s.decide().Code).To(Equal(0))
	})
})

var _ = Describe("the standing", func() {
	DescribeTable("is by frames", func(frames int64, before *decision.Before, want decision.Standing) {
		Expect(decision.Stand(frames, before)).To(Equal(want))
	},
		Entry(nil, int64(100), nil, decision.First),
		Entry(nil, int64(100), &decision.Before{Frames: 101}, decision.Record),
		Entry(nil, int64(100), &decision.Before{Frames: 100}, decision.Tie),
		Entry(nil, int64(100), &decision.Before{Frames: 99}, decision.Slower),
	)
})

var _ = Describe("decision.json", func() {
	It("is the same for the same facts, and has no null list", func() {
		a, err := good("a", "b").decide().JSON()
		Expect(err).NotTo(HaveOccurred())
		b, err := good("a", "b").decide().JSON()
		Expect(err).NotTo(HaveOccurred())
		Expect(a).To(Equal(b))
		Expect(string(a)).To(HaveSuffix("}\n"))
		var x struct {
			Outcome string
			Reasons []any
			Runs    []struct{ Damage []any }
		}
		Expect(json.Unmarshal(a, &x)).To(Succeed())
		Expect(x.Outcome).To(Equal("certified"))
		Expect(x.Reasons).NotTo(BeNil())
		Expect(x.Runs).To(HaveLen(6))
		Expect(x.Runs[0].Damage).NotTo(BeNil())
	})
	It("does not hang on the words of judging, as long as it is certified", func() {
		s := good("a")
		s.again(second, func(_ *record.Meta, v *judge.RunVerdict) {
			v.Checkpoints[0].Why, v.Timing.Why = "score 0.97", "said so"
		})
		a, err := s.decide().JSON()
		Expect(err).NotTo(HaveOccurred())
		Expect(good("a").decide().JSON()).To(Equal(a))
	})
})
