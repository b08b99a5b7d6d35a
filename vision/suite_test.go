package vision_test

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func TestVision(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "Vision Suite")
}
