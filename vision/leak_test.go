//go:build matprofile

package vision_test

import (
	"bytes"
	"image"
	"math/rand/v2"
	"os"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"gocv.io/x/gocv"

	"latchproof/vision"
	"latchproof/vision/screen"
)

// Every Mat of the whole suite must be closed at its end. Run with
//
//	go test -tags matprofile ./vision
var _ = AfterSuite(func() {
	path := filepath.Join(GinkgoT().TempDir(), "v.mkv")
	Expect(os.WriteFile(path, []byte("\x1a\x45\xdf\xa3 damaged"), 0o600)).To(Succeed())
	_, err := vision.OpenVideo(path)
	Expect(err).To(MatchError(vision.ErrNoVideo))
	Expect(openMats()).To(BeEmpty())
})

// openMats lists where the Mats that are open were made; empty when none is.
func openMats() string {
	if gocv.MatProfile.Count() == 0 {
		return ""
	}
	var open bytes.Buffer
	Expect(gocv.MatProfile.WriteTo(&open, 1)).To(Succeed())
	return open.String()
}

var _ = Describe("the Mats of 10,000 frames", Serial, func() {
	It("are all closed, with a bounded number open at any time", func() {
		r := rand.New(rand.NewPCG(1, 1))
		s := screen.New(96, 80)
		for i := range s.Y {
			s.Y[i] = byte(r.IntN(256))
		}
		cut, err := s.Crop(image.Rect(20, 30, 36, 46))
		Expect(err).NotTo(HaveOccurred())
		alpha := bytes.Repeat([]byte{255}, 16*16)
		alpha[0] = 0
		plain, err := vision.NewTemplate(cut, nil)
		Expect(err).NotTo(HaveOccurred())
		masked, err := vision.NewTemplate(cut, alpha)
		Expect(err).NotTo(HaveOccurred())

		path := filepath.Join(GinkgoT().TempDir(), "v.mkv")
		rec, err := vision.CreateVideo(path, vision.MJPEG, s.W, s.H, 60)
		Expect(err).NotTo(HaveOccurred())
		img := vision.NewImage()
		norm := &vision.Normalizer{W: s.W, H: s.H}
		base, most := gocv.MatProfile.Count(), 0
		var bgr []byte
		const frames = 10_000
		for i := range frames {
			s.Y[i%len(s.Y)] ^= 0x55
			bgr = s.BGR(bgr)
			Expect(img.SetBGR(s.W, s.H, bgr)).To(Succeed())
			Expect(rec.Write(img)).To(Succeed())
			for _, t := range []*vision.Template{plain, masked} {
				scores, err := t.Search(s)
				Expect(err).NotTo(HaveOccurred())
				Expect(scores).To(HaveLen(81 * 65))
			}
			most = max(most, gocv.MatProfile.Count()-base)
		}
		Expect(rec.Close()).To(Succeed())

		v, err := vision.OpenVideo(path)
		Expect(err).NotTo(HaveOccurred())
		back := screen.New(s.W, s.H)
		for range frames {
			Expect(v.Next(img)).To(Succeed())
			Expect(norm.Screen(img, back)).To(Succeed())
			most = max(most, gocv.MatProfile.Count()-base)
		}
		Expect(v.Close()).To(Succeed())
		Expect(norm.Close()).To(Succeed())
		Expect(img.Close()).To(Succeed())
		Expect(most).To(BeNumerically("<=", 8))
		Expect(gocv.MatProfile.Count()).To(BeNumerically("<=", base), openMats())
	})
})
