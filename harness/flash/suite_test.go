package flash_test

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func TestFlash(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "flash")
}
