package reports

import (
	"image"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// screenshot renders a page in headless Chromium with a window of w by h.
func screenshot(s Session, w, h string, flags ...string) image.Image {
	GinkgoHelper()
	browser, err := exec.LookPath("chromium")
	if err != nil {
		Skip("chromium is not installed")
	}
	dir := GinkgoT().TempDir()
	file, shot := filepath.Join(dir, "report.html"), filepath.Join(dir, "report.png")
	Expect(os.WriteFile(file, []byte(render(s)), 0o666)).To(Succeed())
	args := append([]string{"--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--hide-scrollbars",
		"--user-data-dir=" + filepath.Join(dir, "profile"), "--window-size=" + w + "," + h, "--screenshot=" + shot}, flags...)
	cmd := exec.Command(browser, append(args, "file://"+file)...)
	cmd.Env = append(os.Environ(), "HOME="+dir)
	cmd.WaitDelay = time.Second
	out, err := cmd.CombinedOutput()
	Expect(err).NotTo(HaveOccurred(), "%s", out)
	f, err := os.Open(shot)
	Expect(err).NotTo(HaveOccurred())
	defer f.Close()
	img, err := png.Decode(f)
	Expect(err).NotTo(HaveOccurred())
	return img
}

// grey gives the mean and the standard deviation of the luma, 0 to 255.
func grey(img image.Image) (mean, deviation float64) {
	b := img.Bounds()
	var n, sum, squares float64
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			r, g, bl, _ := img.At(x, y).RGBA()
			l := (0.299*float64(r) + 0.587*float64(g) + 0.114*float64(bl)) / 257
			n, sum, squares = n+1, sum+l, squares+l*l
		}
	}
	return sum / n, math.Sqrt(squares/n - sum/n*sum/n)
}

var _ = Describe("in a browser", Label("slow"), func() {
	It("the page is drawn, light and dark", func() {
		light := screenshot(samplePicture(), "1280", "900")
		Expect(light.Bounds().Size()).To(Equal(image.Pt(1280, 900)))
		mean, deviation := grey(light)
		Expect(mean).To(BeNumerically(">", 150))
		Expect(deviation).To(BeNumerically(">", 20), "text, shapes and pictures")

		dark := screenshot(samplePicture(), "1280", "900", "--blink-settings=preferredColorScheme=0")
		mean, deviation = grey(dark)
		Expect(mean).To(BeNumerically("<", 80))
		Expect(deviation).To(BeNumerically(">", 20))
	})

	It("the colour of the answer is on the first screen", func() {
		img := screenshot(sampleHeld(), "1280", "800")
		n := 0
		for y := range 800 {
			for x := range 1280 {
				if r, g, b, _ := img.At(x, y).RGBA(); r>>8 == 0x0b && g>>8 == 0x4f && b>>8 == 0x8f {
					n++
				}
			}
		}
		Expect(n).To(BeNumerically(">", 2000), "pixels in the colour of yes")
	})

	It("the plots follow the dark", func() {
		s := Session{Specs: []Spec{{Lockstep: Lockstep{Survival: fallingSurvival()}}}}
		img := screenshot(s, "1000", "1200", "--blink-settings=preferredColorScheme=0")
		line, black := 0, 0
		for y := range 1200 {
			for x := range 1000 {
				r, g, b, _ := img.At(x, y).RGBA()
				switch {
				case r>>8 == 0x8c && g>>8 == 0xc0 && b>>8 == 0xf5:
					line++
				case r|g|b == 0:
					black++
				}
			}
		}
		Expect(line).To(BeNumerically(">", 1000), "pixels in the colour of the first curve")
		Expect(black).To(BeZero(), "pixels in the black that the library draws in")
	})
})
