package vision_test

import (
	"fmt"
	"image"
	"io"
	"math/rand/v2"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/vision"
	"latchproof/vision/screen"
)

// The whole way: a known 256x240 picture with figures at known places, noise
// of sigma 8, enlarged into a capture with a border, written as Motion JPEG to
// a real file, read back, normalised, searched everywhere.
var _ = DescribeTable("a template's place is exact through a real file",
	func(w, h int, active image.Rectangle, masked bool) {
		const pictures, figures = 25, 6
		path := filepath.Join(GinkgoT().TempDir(), "v.mkv")
		rng := rand.New(rand.NewPCG(21, uint64(w)))
		var alpha []byte
		if masked {
			alpha = disc(16, 16)
		}
		r, err := vision.CreateVideo(path, vision.MJPEG, w, h, 60)
		Expect(err).NotTo(HaveOccurred())
		var places [pictures][figures]image.Point
		for i := range places {
			s := lights(256, 240, uint64(i))
			for j := range figures { // each in its own cell of 85x120, so that none covers another
				places[i][j] = image.Pt(j%3*85+rng.IntN(85-15), j/3*120+rng.IntN(120-15))
				put(s, sprite(uint64(j)), alpha, places[i][j])
			}
			img := imageOf(w, h, project(noisy(s, 8, rng), w, h, active))
			Expect(r.Write(img)).To(Succeed())
			Expect(img.Close()).To(Succeed())
		}
		Expect(r.Close()).To(Succeed())

		v, err := vision.OpenVideo(path)
		Expect(err).NotTo(HaveOccurred())
		defer v.Close()
		dst := screen.New(256, 240)
		var p vision.Picture
		defer p.Close()
		n := &vision.Normalizer{Active: active, W: 256, H: 240}
		defer n.Close()
		worst, gap := 1.0, 1.0
		for i := range places {
			Expect(v.Read(&p)).To(Succeed())
			Expect(n.Picture(&p, vision.AllLines, dst)).To(Succeed())
			for j, want := range places[i] {
				t := template(sprite(uint64(j)), alpha)
				m, err := t.Match(dst, image.Rectangle{})
				Expect(err).NotTo(HaveOccurred())
				Expect(m.At).To(Equal(want))
				worst, gap = min(worst, m.Score), min(gap, m.Score-m.Second)
				near, err := t.Match(dst, image.Rect(want.X-1, want.Y-1, want.X+2, want.Y+2))
				Expect(err).NotTo(HaveOccurred())
				Expect(near.At).To(Equal(want))
				Expect(near.Score).To(Equal(m.Score))
			}
		}
		Expect(v.Read(&p)).To(Equal(io.EOF))
		AddReportEntry(fmt.Sprintf("lowest score %.4f, smallest lead over the second place %.4f", worst, gap))
	},
	Entry("640x480 with a border", 640, 480, image.Rect(24, 12, 616, 468), false),
	Entry("640x480 with a border, masked", 640, 480, image.Rect(24, 12, 616, 468), true),
	Entry("1280x720 with pillars", 1280, 720, image.Rect(160, 0, 1120, 720), false),
	Entry("720x240 fields", 720, 240, image.Rect(8, 0, 712, 240), false),
)
