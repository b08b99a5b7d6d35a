package look_test

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func TestLook(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "look")
}
