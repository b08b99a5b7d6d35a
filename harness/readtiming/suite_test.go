package readtiming_test

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func TestReadTiming(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "read timing")
}
