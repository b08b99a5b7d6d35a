package shrink_test

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/specs/console"
)

func TestShrink(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "shrinking")
}

var ntsc, _ = console.Builtin("ntsc-8bit")
