package v4l2

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func TestV4L2(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "v4l2")
}
