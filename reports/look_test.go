package reports

import (
	"os"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("the samples", func() {
	It("are written to the folder of LATCHPROOF_REPORT_SAMPLES, for looking at", func() {
		dir := os.Getenv("LATCHPROOF_REPORT_SAMPLES")
		if dir == "" {
			Skip("LATCHPROOF_REPORT_SAMPLES is not set")
		}
		for name, s := range map[string]Session{"held": sampleHeld(), "picture": samplePicture(), "three": sampleThree(), "empty": {}, "many": {Title: "Two specs", Specs: append(sampleHeld().Specs, samplePicture().Specs...)}} {
			f, err := os.Create(filepath.Join(dir, name+".html"))
			Expect(err).NotTo(HaveOccurred())
			Expect(WriteHTML(f, s)).To(Succeed())
			Expect(f.Close()).To(Succeed())
		}
	})
})
