package browser

import (
	"os"
	"path/filepath"
	"time"

	"github.com/chromedp/chromedp"
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// writeShot writes a file to the folder of SHOTS, if it is set.
func writeShot(name string, data []byte) {
	GinkgoHelper()
	if dir := os.Getenv("SHOTS"); dir != "" {
		Expect(os.WriteFile(filepath.Join(dir, name), data, 0o666)).To(Succeed())
	}
}

// shoot takes a picture of the whole page.
func (t *tab) shoot(name string) {
	GinkgoHelper()
	data, err := chromedp.Run(t.ctx, chromedp.FullScreenshot(100))
	Expect(err).NotTo(HaveOccurred())
	writeShot(name+".png", data)
}

var _ = Describe("shots", func() {
	It("are written to the folder of SHOTS, for looking at", func() {
		if os.Getenv("SHOTS") == "" {
			Skip("SHOTS is not set")
		}
		dark := desk.with("prefers-color-scheme", "dark")
		for _, s := range []struct {
			name   string
			sample sample
			view   view
			opened bool
		}{
			{"light", evening, desk, false}, {"dark", evening, dark, false}, {"dark-open", evening, dark, true}, {"narrow-320", evening, view{w: 320, h: 700}, false},
			{"narrow-420-open", evening, view{w: 420, h: 800}, true}, {"forced", evening, desk.with("forced-colors", "active"), false}, {"forced-dark", evening, dark.with("forced-colors", "active"), true},
			{"print", evening, view{w: 718, h: 1000, print: true}, false}, {"everything", everything, desk, true}, {"everything-320", everything, view{w: 320, h: 700}, true}, {"hundred", hundred, desk, false},
		} {
			t := open(s.sample, s.view)
			if s.opened {
				t.do(openAll)
			}
			t.shoot(s.name)
		}
		for _, s := range []struct {
			name string
			view view
			hash string
		}{
			{"viewer-slide", desk, "214:slide:3:100"}, {"viewer-diff-dark", dark, "216:diff:3:0"}, {"viewer-unseen", desk, "217:pair:2:0"},
			{"viewer-8x-420", view{w: 420, h: 800}, "214:pair:8:0"}, {"viewer-slide-320", view{w: 320, h: 700}, "214:slide:1:128"}, {"viewer-forced", dark.with("forced-colors", "active"), "214:slide:2:128"},
		} {
			w := openViewer(s.view)
			w.do(`location.hash = v.closest(".part").id + ":` + s.hash + `"`)
			time.Sleep(time.Second) // nothing is asserted
			data, err := chromedp.Run(w.ctx, chromedp.CaptureScreenshot())
			Expect(err).NotTo(HaveOccurred())
			writeShot(s.name+".png", data)
		}
	})
})
