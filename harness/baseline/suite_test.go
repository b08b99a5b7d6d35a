package baseline_test

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func TestBaseline(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "harness/baseline")
}
