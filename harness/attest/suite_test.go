package attest_test

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func TestAttest(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "attest")
}
