package plot

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func TestPlot(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "plot")
}
