package feeder_test

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func TestFeeder(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "feeder")
}
