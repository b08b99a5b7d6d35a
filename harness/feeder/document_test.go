package feeder_test

import (
	"os"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/feeder"
)

var _ = Describe("PROTOCOL.md", func() {
	It("shows the frames that were made independently, and names every message", func() {
		text, err := os.ReadFile("PROTOCOL.md")
		Expect(err).NotTo(HaveOccurred())
		for _, frame := range []string{wireHello, wireLoad, wireLatch, wireService} {
			Expect(string(text)).To(ContainSubstring("\n" + frame + "\n"))
		}
		for _, m := range samples {
			Expect(string(text)).To(MatchRegexp(`\*\*%v \(0x%02x\)\*\*`, m.Type(), uint8(m.Type())))
		}
		Expect(len(feeder.AppendFrame(nil, 0, samples[11]))).To(BeNumerically("<=", feeder.MaxWire))
	})
})
