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
	return Job{&job{
		cp: cp, check: check, from: from, to: to, bad: bad,
		res: Result{Name: "x", Verdict: Unseen, Frame: from, From: from, To: to},
	}}
}

func (j Job) Look(f console.Frame, s *screen.Screen) error     { return j.j.look(f, s) }
func (j Job) LookNear(f console.Frame, s *screen.Screen) error { return j.j.lookNear(f, s) }
func (j Job) Settle(c *clock.Clock) Result                     { return j.j.settle(c) }
