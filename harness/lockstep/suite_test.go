package lockstep_test

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func TestLockstep(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "harness/lockstep")
}
