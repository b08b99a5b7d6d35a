package harness

import (
	"context"
	"fmt"

	"latchproof/harness/judge"
)

// The verdicts of a case and of a session.
const (
	Held       = "held"        // all checkpoints and the lockstep held
	NotHeld    = "not held"    // something surely did not
	CannotTell = "cannot tell" // unseen, damaged, disconnected, stopped
)

// Verdict says whether everything that was asked of the repeats that were run
// held. What surely does not hold outweighs what cannot be told.
func (c *Case) Verdict() string {
	runs, errs := c.Runs()
	cannot := len(errs) > 0 || len(runs) == 0
	for _, r := range runs {
		if r.Damage() != nil {
			cannot = true
		}
		for _, res := range r.Results {
			switch res.Verdict {
			case judge.Fail:
				return NotHeld
			case judge.Unseen:
				cannot = true
			}
		}
		switch t := r.Timing; {
		case t != nil && t.Verdict == judge.Fail:
			return NotHeld
		case t != nil && t.Verdict == judge.Unseen:
			cannot = true
		}
	}
	steps := c.Steps()
	in, compared, total := steps.InStep()
	switch {
	case in >= c.Required():
	case in+steps.undecided()+total-compared >= c.Required() && steps.undecided() > 0:
		cannot = true // the frame clocks or the card may be all that differs
	case in+total-compared < c.Required() && len(c.assumed) > 0:
		cannot = true // frames may be one off
	case in+total-compared < c.Required():
		return NotHeld
	case len(runs) == c.Repeats:
		cannot = true
	}
	if cannot {
		return CannotTell
	}
	return Held
}

// ExitCode is the command's exit code for these cases.
func ExitCode(cases []*Case) int {
	code := 0
	for _, c := range cases {
		switch c.Verdict() {
		case NotHeld:
			return 1
		case CannotTell:
			code = 3
		}
	}
	return code
}

// checkpoints counts judgements of checkpoints over all repeats.
func checkpoints(n int) string {
	if n == 1 {
		return "1 checkpoint"
	}
	return fmt.Sprintf("%d checkpoints", n)
}

// Sentence answers in words: were the repeats frame-exact, and if not, where
// do they part and why.
func (c *Case) Sentence() string {
	steps := c.Steps()
	in, compared, total := steps.InStep()
	runs, errs := c.Runs()
	if compared == 0 {
		why := "nothing was played"
		switch {
		case len(errs) > 0:
			why = oneLine(errs[0])
		case len(steps.Left) > 0:
			why = steps.Left[0]
		}
		return "Nothing can be said: " + why + "."
	}
	var unseen, failed int
	for _, r := range runs {
		for _, res := range r.Results {
			switch res.Verdict {
			case judge.Fail:
				failed++
			case judge.Unseen:
				unseen++
			}
		}
	}
	out := ""
	switch {
	case steps.Divergence != nil && len(c.assumed) > 0:
		d := steps.Divergence
		out = fmt.Sprintf("Nothing can be said: repeats seem to part at frame %d, but the frame clock is assumed (no calibrated latency), so their frames may only be counted one off", d.Frame)
	case Doubtful(steps.Divergence) != "":
		d := steps.Divergence
		out = fmt.Sprintf("Nothing can be said from frame %d on: %s (%s)", d.Frame, Doubtful(d), d.Why)
	case steps.Divergence != nil:
		d := steps.Divergence
		out = fmt.Sprintf("Not frame-exact: %d of %d repeats stayed in lockstep with the first. They part at frame %d (%s): %s", in, compared, d.Frame, d.Kind, d.Why)
	case compared == 1:
		out = "Only one repeat was played to its end, so nothing is said about repeating it"
	default:
		out = fmt.Sprintf("Frame-exact: all %d repeats showed the same picture on the same frame, over %d frames", compared, steps.Frames)
	}
	if of := steps.Frames * int64(compared-1); steps.Unseen > 0 && of > 0 {
		out += fmt.Sprintf("; for %d of %d comparisons of a frame one side had no picture", steps.Unseen, of)
	}
	switch n := len(steps.Suspects); n {
	case 0:
	case 1:
		out += "; 1 picture differs by itself, and the next ones do not confirm it"
	default:
		out += fmt.Sprintf("; %d pictures differ by themselves, and the next ones do not confirm them", n)
	}
	if compared < total && len(runs) == c.Repeats {
		out += fmt.Sprintf("; %d could not be compared", total-compared)
	}
	if failed > 0 {
		out += "; " + checkpoints(failed) + " failed"
	}
	if unseen > 0 {
		out += "; " + checkpoints(unseen) + " unseen"
	}
	if t := c.TimingText(); t != "" {
		out += "; " + t
	}
	if len(errs) > 0 {
		out += "; " + oneLine(errs[0])
	}
	return out + "."
}

// CheckpointCode is the exit code by the checkpoints alone, whether or not the
// runs stayed in lockstep: 0 all passed, 1 one failed, 3 one is unseen or the
// context ended.
func (c *Case) CheckpointCode(ctx context.Context) int {
	runs, errs := c.Runs()
	code := 0
	if len(errs) > 0 || ctx.Err() != nil {
		code = 3
	}
	for _, r := range runs {
		switch r.Verdict().Verdict {
		case judge.Fail:
			return 1
		case judge.Unseen:
			code = 3
		}
	}
	return code
}
