package record_test

import (
	"os"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// TestMain lets the test binary play the part of a process that is killed
// while it writes a run.
func TestMain(m *testing.M) {
	if dir := os.Getenv("RECORD_TEST_VICTIM"); dir != "" {
		victim(dir)
		return
	}
	os.Exit(m.Run())
}

func TestRecord(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "harness/record")
}
