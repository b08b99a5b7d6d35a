package vision_test

import (
	"os"
	"strconv"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/vision"
	"latchproof/vision/screen"
)

// resident is the memory of the process that is not in files, bytes.
func resident() int64 {
	GinkgoHelper()
	src, err := os.ReadFile("/proc/self/status")
	if err != nil {
		Skip("this system does not say how much memory a process has")
	}
	for line := range strings.Lines(string(src)) {
		if f := strings.Fields(line); len(f) == 3 && f[0] == "RssAnon:" {
			kb, err := strconv.ParseInt(f[1], 10, 64)
			Expect(err).NotTo(HaveOccurred())
			return kb << 10
		}
	}
	Skip("this system does not say how much memory a process has")
	return 0
}

var _ = Describe("the memory of thousands of pictures", Serial, func() {
	It("is given back", func() {
		path := made("v.mkv", "-c:v", "libx264", "-preset", "ultrafast", "-pix_fmt", "yuv420p")
		var p vision.Picture
		defer p.Close()
		norm := &vision.Normalizer{W: 64, H: 60}
		defer norm.Close()
		s := screen.New(64, 60)
		img := vision.NewImage()
		defer img.Close()
		pass := func() {
			v, err := vision.OpenVideo(path)
			Expect(err).NotTo(HaveOccurred())
			for i := range 90 {
				Expect(v.Read(&p)).To(Succeed())
				Expect(norm.Picture(&p, vision.Lines(i%3), s)).To(Succeed())
				Expect(p.Image(img)).To(Succeed())
			}
			Expect(v.Seek(45)).To(Succeed())
			Expect(v.Read(&p)).To(Succeed())
			Expect(v.Close()).To(Succeed())
		}
		for range 10 {
			pass()
		}
		before := resident()
		for range 40 { // 3,640 pictures of 28,800 bytes
			pass()
		}
		// All of them would be 105 MB; a single one a pass is found by the counter.
		Expect(resident() - before).To(BeNumerically("<", 16<<20))
		Expect(p.Close()).To(Succeed())
		Expect(vision.Frames()).To(BeZero())
	})
})
