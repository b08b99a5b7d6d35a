package matchers

import (
	"fmt"

	"github.com/onsi/gomega/types"
)

// Recorded is a run that knows whether its record is complete.
type Recorded interface {
	// Damage says what makes the record incomplete: a lost read, a capture
	// cut short, a run that was stopped. Nil when the record is whole.
	Damage() error
}

// BeWhole succeeds when every read and the whole capture of a run arrived and
// its record is sealed.
func BeWhole() types.GomegaMatcher { return &beWhole{} }

type beWhole struct{ damage error }

func (m *beWhole) Match(actual any) (bool, error) {
	run, ok := actual.(Recorded)
	if !ok {
		return false, fmt.Errorf("BeWhole wants a run, not %T", actual)
	}
	m.damage = run.Damage()
	return m.damage == nil, nil
}

func (m *beWhole) FailureMessage(any) string {
	return fmt.Sprintf("the record of the run is not whole: %v", m.damage)
}

func (m *beWhole) NegatedFailureMessage(any) string {
	return "the record of the run is whole, and should not be"
}
