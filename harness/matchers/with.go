package matchers

import (
	"fmt"

	"github.com/onsi/gomega/types"

	"latchproof/harness/lockstep"
)

// Traced is a run that can be compared with another.
type Traced interface {
	// Comparable says why the run cannot be compared; nil when it can.
	Comparable() error
	// Steps is what is compared of it.
	Steps() lockstep.Run
}

// StayInLockstepWith succeeds when a run shows the same picture on the same
// frame as another. Runs that cannot be compared (damaged, partial, of an
// untrusted clock, or with no frame that both saw) are an error.
func StayInLockstepWith(other Traced) types.GomegaMatcher { return &stayWith{other: other} }

type stayWith struct {
	other  Traced
	report lockstep.Report
}

func (m *stayWith) Match(actual any) (bool, error) {
	run, ok := actual.(Traced)
	if !ok {
		return false, fmt.Errorf("StayInLockstepWith wants a run, not %T", actual)
	}
	for _, r := range []Traced{m.other, run} {
		if err := r.Comparable(); err != nil {
			return false, err
		}
	}
	var err error
	m.report, err = lockstep.Compare(m.other.Steps(), run.Steps())
	return err == nil && m.report.Lockstep(), err
}

func (m *stayWith) FailureMessage(any) string {
	d := m.report.Divergence
	return fmt.Sprintf("the runs part at frame %d (%s): %s", d.Frame, d.Kind, d.Why)
}

func (m *stayWith) NegatedFailureMessage(any) string {
	return fmt.Sprintf("the runs stay in lockstep over %d compared frames, and should not", m.report.Compared)
}
