package harness

import (
	"fmt"
	"strings"
	"time"

	"github.com/onsi/ginkgo/v2"

	"latchproof/harness/baseline"
)

// RunBaseline plays the candidate's runs, unless they are recorded ones, and
// judges them, as one tree of tests: first the runs, a container for each spec and
// a node for each repeat; then a container for each spec with the nodes "shows the
// same pictures", "is no worse in lockstep", "read timing is no worse" and, when the
// spec has any, "checkpoints". A node fails when its rows are worse or cannot be
// told; its text says which. The pictures are the same when no run parts; when the
// parting is no more often than in the baseline the node does not fail for it.
//
// What was found is asked by Result. As RunTree it can be called once in a
// process.
func (c *BaselineCheck) RunBaseline(o TreeOptions) error {
	timeout := o.Timeout
	if timeout == 0 {
		timeout = DefaultTimeout
	}
	build := func() {
		for _, s := range c.Specs {
			if c.player != nil {
				c.declarePlays(s, timeout)
			}
		}
		for i, s := range c.Specs {
			labels := append(ginkgo.Labels{}, s.Spec.Labels...)
			ginkgo.Describe(s.Spec.Name, labels, func() { c.declareRows(i, s) })
		}
	}
	// Nothing is judged before all is played: runTree keeps the order.
	return runTree(o, build)
}

func (c *BaselineCheck) declarePlays(s *Checked, timeout time.Duration) {
	if s.Spec.Timeout > 0 {
		timeout = s.Spec.Timeout
	}
	ginkgo.Describe("candidate runs of "+s.Spec.Name, func() {
		for n := 1; n <= s.Repeats; n++ {
			ginkgo.It(fmt.Sprintf("repeat %d is played and sealed", n), ginkgo.Label("play"), ginkgo.SpecTimeout(timeout), func(ctx ginkgo.SpecContext) {
				if err := c.play(ctx, s, n); err != nil {
					ginkgo.Fail(err.Error())
				}
			})
		}
	})
}

func (c *BaselineCheck) declareRows(i int, s *Checked) {
	node := func(text, label string, look func(*CheckedSpec) string) {
		ginkgo.It(text, ginkgo.Label("baseline", label), func(ctx ginkgo.SpecContext) {
			res, err := c.Result(ctx)
			if err != nil {
				ginkgo.Fail(err.Error())
			}
			if bad := look(&res.Specs[i]); bad != "" {
				ginkgo.Fail(bad)
			}
		})
	}
	node("shows the same pictures", "pictures", func(r *CheckedSpec) string {
		lockstep := r.Row(baseline.RowLockstep)
		if r.Parts == nil || lockstep.Verdict == baseline.NoWorse {
			return ""
		}
		return r.Sentence
	})
	rows := func(names ...string) func(*CheckedSpec) string {
		return func(r *CheckedSpec) string { return r.bad(names) }
	}
	node("is no worse in lockstep", "lockstep", rows(baseline.RowLockstep, baseline.RowSurvival))
	node("read timing is no worse", "timing", rows(
		baseline.RowJitter, baseline.RowService, baseline.RowWorst, baseline.RowClocks, baseline.RowUnderruns, baseline.RowLate, baseline.RowReads))
	if len(s.Spec.Checkpoints) > 0 || s.Spec.Timing != nil {
		node("checkpoints", "checkpoints", rows(baseline.RowCheckpoints))
	}
}

// bad says which of the rows are worse or cannot be told; empty for none.
func (s *CheckedSpec) bad(names []string) string {
	var out []string
	for _, name := range names {
		r := s.Row(name)
		if r == nil || r.Verdict == baseline.NoWorse {
			continue
		}
		text := fmt.Sprintf("%s: %s: %s; the baseline has %s; p %s", r.What, r.Verdict, r.Candidate, r.Baseline, chance(r.Adjusted))
		if r.Verdict == baseline.CannotTell && r.Need != (baseline.Need{}) {
			text += "; " + needWords(r.Need)
		}
		out = append(out, text)
	}
	return strings.Join(out, "\n")
}
