package calibrate_test

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func TestCalibrate(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "calibrate")
}
