package matchers

import (
	"github.com/onsi/gomega/types"

	"latchproof/harness/checks"
)

// BeBlack succeeds when the whole screen is black: no 8x8 block of it is
// lighter than checks.DefaultLevel.
func BeBlack() types.GomegaMatcher {
	return &onScreen{check: checks.NewBlack(checks.DefaultLevel)}
}
