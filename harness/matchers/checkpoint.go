package matchers

import (
	"fmt"

	"github.com/onsi/gomega/types"

	"latchproof/harness/judge"
)

// Judged is a run whose checkpoints were judged.
type Judged interface {
	// Result gives the judgement of a checkpoint by its name.
	Result(name string) (judge.Result, bool)
}

// PassCheckpoint succeeds when the checkpoint of that name passed. A fail is a
// mismatch; unseen, or a checkpoint that was never judged, is an error.
func PassCheckpoint(name string) types.GomegaMatcher { return &passCheckpoint{name: name} }

type passCheckpoint struct {
	name   string
	result judge.Result
}

func (m *passCheckpoint) Match(actual any) (bool, error) {
	run, ok := actual.(Judged)
	if !ok {
		return false, fmt.Errorf("PassCheckpoint wants a judged run, not %T", actual)
	}
	if m.result, ok = run.Result(m.name); !ok {
		return false, fmt.Errorf("checkpoint %q was not judged in this run", m.name)
	}
	if m.result.Verdict == judge.Unseen {
		return false, fmt.Errorf("checkpoint %q at frame %d: %w: %s", m.name, m.result.Frame, judge.ErrUnseen, m.result.Why)
	}
	return m.result.Verdict == judge.Pass, nil
}

func (m *passCheckpoint) FailureMessage(any) string {
	return fmt.Sprintf("checkpoint %q failed at frame %d: %s", m.name, m.result.Frame, m.result.Why)
}

func (m *passCheckpoint) NegatedFailureMessage(any) string {
	return fmt.Sprintf("checkpoint %q passed at frame %d, and should not have: %s", m.name, m.result.Frame, m.result.Why)
}
