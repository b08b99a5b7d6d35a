package verify

import (
	"fmt"
	"strings"

	"latchproof/harness"
	"latchproof/harness/decision"
	"latchproof/harness/judge"
	"latchproof/harness/lockstep"
	"latchproof/specs/console"
)

// replay plays the program on the verifier's own bench, judges the runs, and holds
// them against the bundle's first run and its time.
func (v *verifier) replay(d *decision.Decision) (State, string) {
	n := v.o.Repeats
	if n < 1 {
		n = v.claim.House.Repeats
	}
	s := *v.claim.Spec
	s.Repeats, s.Lockstep.Required = n, n
	tree := lockstep.NewTree(harness.Naming(s.Console, s.Program))
	if err := tree.Add(v.stepsOf(v.runs[0])); err != nil {
		return Cannot, err.Error()
	}
	p := replayed{low: 0, high: 1<<62 - 1}
	for k := 1; k <= n; k++ {
		run, err := v.o.Replay.Play(v.ctx, &s, k, n)
		if err != nil {
			return Cannot, fmt.Sprintf("repeat %d: %v", k, err)
		}
		defer run.Close()
		p.take(run, tree)
	}
	return p.settle(tree.Result(), n, d.Measured.Frames)
}

// replayed is what came of playing anew.
type replayed struct {
	broken, cannot []string
	low, high      int64 // limits of the time that all repeats leave
}

func (p *replayed) take(run *harness.Run, tree *lockstep.Tree) {
	for _, r := range run.Results {
		switch r.Verdict {
		case judge.Fail:
			p.broken = append(p.broken, fmt.Sprintf("%s: checkpoint %q fails: %s", run.Name, r.Name, r.Why))
		case judge.Unseen:
			p.cannot = append(p.cannot, fmt.Sprintf("%s: checkpoint %q is unseen: %s", run.Name, r.Name, r.Why))
		}
	}
	switch t := run.Timing; {
	case t == nil || t.Verdict == judge.Unseen:
		p.cannot = append(p.cannot, run.Name+": the time is unseen")
	case t.Verdict == judge.Fail:
		p.broken = append(p.broken, fmt.Sprintf("%s: the timing fails: %s", run.Name, t.Why))
	default:
		p.low, p.high = max(p.low, t.Low), min(p.high, t.High)
	}
	err := run.Comparable()
	if err == nil {
		err = tree.Add(run.Steps())
	}
	if err != nil {
		p.cannot = append(p.cannot, fmt.Sprintf("%s: %v", run.Name, err))
	}
}

// settle says what came of n repeats, held against a time of that many frames.
func (p *replayed) settle(res lockstep.Result, n int, frames int64) (State, string) {
	in := len(res.Families[0].Runs) - 1
	for _, l := range res.Lives {
		switch {
		case l.Parted == nil && l.Frame < console.Frame(0):
			p.cannot = append(p.cannot, l.Run+": no frame was seen by it and by the bundle's first run")
		case l.Parted != nil && decision.Doubt(l.Parted) != "":
			p.cannot = append(p.cannot, fmt.Sprintf("%s seems to part at frame %d: %s", l.Run, l.Parted.Frame, decision.Doubt(l.Parted)))
		case l.Parted != nil:
			p.broken = append(p.broken, fmt.Sprintf("%s parts at frame %d: %s", l.Run, l.Parted.Frame, l.Parted.Why))
		}
	}
	switch {
	case frames < p.low || frames > p.high:
		p.broken = append(p.broken, fmt.Sprintf("it takes %d to %d frames here, and %d by the certificate", p.low, p.high, frames))
	case p.low != p.high:
		p.cannot = append(p.cannot, fmt.Sprintf("it takes %d to %d frames here, for frames that nobody saw", p.low, p.high))
	}
	found := fmt.Sprintf("%d of %d repeats in lockstep with the bundle's first run", in, n)
	switch {
	case len(p.broken) > 0:
		return Broken, found + "; " + strings.Join(p.broken, "; ")
	case len(p.cannot) > 0:
		return Cannot, found + "; " + strings.Join(p.cannot, "; ")
	}
	return Holds, fmt.Sprintf("%s, and %d frames", found, frames)
}
