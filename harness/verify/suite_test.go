package verify_test

import (
	"os"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func TestVerify(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "verify")
}

var _ = AfterSuite(func() {
	if !testing.Short() {
		Expect(os.RemoveAll(played().dir)).To(Succeed())
	}
})

// needsRun skips what needs a claim to be played, which takes long under the race
// detector, and gives the bundle.
func needsRun() made {
	GinkgoHelper()
	if testing.Short() {
		Skip("playing takes long under the race detector")
	}
	m := played()
	Expect(m.err).NotTo(HaveOccurred())
	return m
}
