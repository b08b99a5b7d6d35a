package draw_test

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func TestDraw(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "look/draw")
}
