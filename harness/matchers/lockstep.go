package matchers

import (
	"fmt"

	"github.com/onsi/gomega/types"
)

// Repeats are the compared repeats of a spec.
type Repeats interface {
	// InStep is how many repeats stayed in lockstep with the first, itself
	// included, how many could be compared, and how many there were.
	InStep() (in, compared, total int)
	// Parting says in words where and why the first repeat parted; empty when
	// none did.
	Parting() string
}

// StayInLockstep succeeds when at least required repeats stayed in lockstep
// with the first one, itself included. When that hangs on repeats that could
// not be compared, it is an error.
func StayInLockstep(required int) types.GomegaMatcher { return &stayInLockstep{required: required} }

type stayInLockstep struct {
	required, in, compared, total int
	parting                       string
}

func (m *stayInLockstep) Match(actual any) (bool, error) {
	r, ok := actual.(Repeats)
	if !ok {
		return false, fmt.Errorf("StayInLockstep wants compared repeats, not %T", actual)
	}
	m.in, m.compared, m.total = r.InStep()
	m.parting = r.Parting()
	if m.in < m.required && m.in+m.total-m.compared >= m.required {
		return false, fmt.Errorf("only %d of %d repeats could be compared and %d must stay in lockstep: nothing can be said", m.compared, m.total, m.required)
	}
	return m.in >= m.required, nil
}

func (m *stayInLockstep) FailureMessage(any) string {
	return fmt.Sprintf("%d of %d repeats stayed in lockstep and %d must: %s", m.in, m.compared, m.required, m.parting)
}

func (m *stayInLockstep) NegatedFailureMessage(any) string {
	return fmt.Sprintf("%d of %d repeats stayed in lockstep, and should not have", m.in, m.compared)
}
