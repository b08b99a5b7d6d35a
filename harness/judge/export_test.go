package judge

import (
	"latchproof/harness/checks"
	"latchproof/harness/clock"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

// Job is one checkpoint while a run is watched, for the tests.
type Job struct{ j *job }

// NewJob asks check of the frames from..to; bad is why they are unknown.
func NewJob(cp specs.Checkpoint, check checks.Check, from, to console.Frame, bad error) Job {
	j := newJob(cp, check)
	j.from, j.to, j.bad = from, to, bad
	j.res = Result{Name: "x", Verdict: Unseen, Frame: from, From: from, To: to}
	return Job{j}
}

func (j Job) Look(f console.Frame, s *screen.Screen) error     { return j.j.look(f, s) }
func (j Job) LookNear(f console.Frame, s *screen.Screen) error { return j.j.lookNear(f, s) }
func (j Job) Settle(c *clock.Clock) Result                     { return j.j.settle(c) }

// Motion is how much pictures change, for the tests.
type Motion struct{ m motion }

// Append adds a picture: its change from the picture before, from the second
// before, and that of the block that changes most.
func (m *Motion) Append(one, two, most float32) {
	m.m.one, m.m.two, m.m.most = append(m.m.one, one), append(m.m.two, two), append(m.m.most, most)
}

// SetMost changes a picture.
func (m *Motion) SetMost(k int, most float32) { m.m.most[k] = most }

// Again is motion.again.
func (m *Motion) Again(k int) int { return m.m.again(k) }

// Rare is motion.rare.
func (m *Motion) Rare(k, first int, paused func(int) bool) int { return m.m.rare(k, first, paused) }

// Delay is motion.delay, of pictures of which the first is the first of the run.
func (m *Motion) Delay(k int, shown []clock.Assignment, lagging map[console.Frame]bool) (console.Frame, bool) {
	return m.m.delay(k, shown, lagging)
}

// Against is what the pictures say against a clock.
func Against(m *Motion, captures []clock.Assignment, bad []bool) string {
	return newEvidence(&m.m, captures, bad).against()
}

// TailOf is the binomial tail.
var TailOf = tailOf
