package matchers

import (
	"fmt"

	"github.com/onsi/gomega/types"

	"latchproof/harness/judge"
)

// Timed is a run whose timing was measured.
type Timed interface {
	// Took is what its spec's `timing` came to; nil when it asks for none.
	Took() *judge.Timing
}

// TakeFrames succeeds when the spec's timing came to that many frames, whatever
// the unseen frames just before an event may hold. When these leave open whether
// it did, or an event may have been missed, it is an error (judge.ErrUnseen).
func TakeFrames(n int64) types.GomegaMatcher { return &takeFrames{least: n, most: n} }

// TakeFramesFrom succeeds when the spec's timing came to least to most frames.
func TakeFramesFrom(least, most int64) types.GomegaMatcher {
	return &takeFrames{least: least, most: most}
}

type takeFrames struct {
	least, most int64
	timing      *judge.Timing
}

func (m *takeFrames) Match(actual any) (bool, error) {
	run, ok := actual.(Timed)
	if !ok {
		return false, fmt.Errorf("TakeFrames wants a judged run, not %T", actual)
	}
	m.timing = run.Took()
	switch t := m.timing; {
	case t == nil:
		return false, fmt.Errorf("the spec of this run asks for no timing")
	case t.Verdict == judge.Unseen:
		return false, fmt.Errorf("timing: %w: %s", judge.ErrUnseen, t.Why)
	case t.Verdict == judge.Fail, t.High < m.least, t.Low > m.most:
		return false, nil
	case t.Low < m.least || t.High > m.most:
		return false, fmt.Errorf("timing: %w: %s", judge.ErrUnseen, t.Why)
	}
	return true, nil
}

func (m *takeFrames) wants() string {
	if m.least == m.most {
		return fmt.Sprintf("%d frames", m.least)
	}
	return fmt.Sprintf("%d to %d frames", m.least, m.most)
}

func (m *takeFrames) FailureMessage(any) string {
	return fmt.Sprintf("it should take %s: %s", m.wants(), m.timing.Why)
}

func (m *takeFrames) NegatedFailureMessage(any) string {
	return fmt.Sprintf("it should not take %s: %s", m.wants(), m.timing.Why)
}
