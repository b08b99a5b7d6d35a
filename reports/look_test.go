package reports

import (
	"io"
	"maps"
	"os"
	"path/filepath"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("the samples", func() {
	It("are written to the folder of LATCHPROOF_REPORT_SAMPLES, for looking at", func() {
		dir := os.Getenv("LATCHPROOF_REPORT_SAMPLES")
		if dir == "" {
			Skip("LATCHPROOF_REPORT_SAMPLES is not set")
		}
		all := map[string]func() Session{"a hundred": sampleHundred}
		maps.Copy(all, samples)
		for name, sample := range all {
			f, err := os.Create(filepath.Join(dir, strings.ReplaceAll(name, " ", "-")+".html"))
			Expect(err).NotTo(HaveOccurred())
			Expect(WriteHTML(f, sample())).To(Succeed())
			Expect(f.Close()).To(Succeed())
			for end, write := range map[string]func(io.Writer, Session) error{".png": WriteCard, ".md": WriteMarkdown, ".txt": func(w io.Writer, s Session) error { return WriteText(w, s, TextOptions{Width: 100, Colour: true}) }} {
				f, err := os.Create(filepath.Join(dir, strings.ReplaceAll(name, " ", "-")+end))
				Expect(err).NotTo(HaveOccurred())
				Expect(write(f, sample())).To(Succeed())
				Expect(f.Close()).To(Succeed())
			}
		}
	})
})
