package matchers

import (
	"fmt"

	"github.com/onsi/gomega/types"

	"latchproof/harness/checks"
	"latchproof/vision/screen"
)

// onScreen asks a checkpoint kind of one screen.
type onScreen struct {
	check checks.Check
	sight checks.Sight
}

func (m *onScreen) Match(actual any) (bool, error) {
	s, ok := actual.(*screen.Screen)
	if !ok {
		return false, fmt.Errorf("%s wants a *screen.Screen, not %T", m.check.Kind(), actual)
	}
	var err error
	if m.sight, err = m.check.Look(s); err != nil || m.sight.Holds {
		return err == nil, err
	}
	if m.sight.Unsure {
		return false, unsure(m.check, m.sight)
	}
	m.sight, err = m.check.Explain(s)
	return false, err
}

func unsure(c checks.Check, sight checks.Sight) error {
	return fmt.Errorf("%s: %w: %s", c.Describe(), checks.ErrUnsure, sight.Why)
}

func (m *onScreen) FailureMessage(any) string {
	return fmt.Sprintf("%s: %s", m.check.Describe(), m.sight.Why)
}

func (m *onScreen) NegatedFailureMessage(any) string {
	return fmt.Sprintf("%s holds, and should not: %s", m.check.Describe(), m.sight.Why)
}

var _ types.GomegaMatcher = (*onScreen)(nil)
