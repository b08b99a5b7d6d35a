package vision_test

import (
	"bytes"
	"fmt"
	"image"
	"io"
	"math"
	"os"
	"path/filepath"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/vision"
	"latchproof/vision/screen"
)

// recorded writes n pictures of lights with a moving figure and gives the
// screens that they show.
func recorded(path string, o vision.RecordOptions, n int) (shown []*screen.Screen) {
	GinkgoHelper()
	r, err := vision.CreateVideoWith(path, o, 256, 240, 60)
	Expect(err).NotTo(HaveOccurred())
	back, figure := lights(256, 240, 9), sprite(9)
	for i := range n {
		s := back.Clone()
		put(s, figure, nil, image.Pt(3*i%240, 100))
		bgr := s.BGR(nil)
		s.SetBGR(256, 240, bgr) // colours outside of R, G, B are clipped
		img := imageOf(256, 240, bgr)
		Expect(r.Write(img)).To(Succeed())
		Expect(img.Close()).To(Succeed())
		shown = append(shown, s)
	}
	Expect(r.Close()).To(Succeed())
	Expect(r.Count()).To(Equal(int64(n)))
	return shown
}

// psnr of two planes, dB: 10·log10(255²/MSE).
func psnr(a, b []byte) float64 {
	sum := 0.0
	for i := range a {
		d := float64(a[i]) - float64(b[i])
		sum += d * d
	}
	return 10 * math.Log10(255*255*float64(len(a))/sum)
}

var _ = Describe("a recording with options", func() {
	var path string
	BeforeEach(func() { path = filepath.Join(GinkgoT().TempDir(), "v.mkv") })

	// The pixel format is what ffprobe sees. The least quality is far below what
	// is measured: it tells colour that is lost or moved, not the codec's taste.
	DescribeTable("keeps pictures, places and times, as another reader sees too",
		func(o vision.RecordOptions, format string, quality float64) {
			const n = 40
			shown := recorded(path, o, n)
			times, _ := probed(path)
			Expect(times).To(HaveLen(n))
			Expect(string(probe(path, "stream=pix_fmt"))).To(Equal(format))
			v, err := vision.OpenVideo(path)
			Expect(err).NotTo(HaveOccurred())
			defer v.Close()
			Expect(v.Info().Frames).To(Equal(int64(n)))
			Expect(v.Info().FPS).To(BeNumerically("~", 60, 1e-3))
			var p vision.Picture
			defer p.Close()
			norm := &vision.Normalizer{W: 256, H: 240}
			defer norm.Close()
			s := screen.New(256, 240)
			worst := [3]float64{99, 99, 99}
			for i := range n {
				Expect(v.Read(&p)).To(Succeed())
				Expect(p.Damaged()).To(BeFalse())
				Expect(p.Stamp()).To(Equal(time.Duration(math.Round(float64(i)*1000/60)) * time.Millisecond))
				woven, top := p.Interlaced()
				Expect(woven).To(Equal(o.Woven != vision.NotWoven))
				Expect(top).To(Equal(o.Woven == vision.TopFirst))
				Expect(norm.Picture(&p, vision.AllLines, s)).To(Succeed())
				worst[0] = min(worst[0], psnr(s.Y, shown[i].Y))
				worst[1] = min(worst[1], psnr(s.Cb, shown[i].Cb))
				worst[2] = min(worst[2], psnr(s.Cr, shown[i].Cr))
			}
			Expect(v.Read(&p)).To(Equal(io.EOF))
			AddReportEntry(fmt.Sprintf("lowest PSNR %.1f, chroma %.1f and %.1f dB", worst[0], worst[1], worst[2]))
			Expect(worst[0]).To(BeNumerically(">", quality))
			Expect(min(worst[1], worst[2])).To(BeNumerically(">", 24))
		},
		Entry("H.264", vision.RecordOptions{Codec: vision.H264}, "yuv420p", 32.0),
		Entry("H.264, good, 4:2:2", vision.RecordOptions{Codec: vision.H264, Quality: 12, Chroma: vision.Chroma422}, "yuv422p", 38.0),
		Entry("H.264, good, 4:4:4", vision.RecordOptions{Codec: vision.H264, Quality: 12, Chroma: vision.Chroma444, Group: 10, Preset: "ultrafast"}, "yuv444p", 38.0),
		Entry("H.264, top field first", vision.RecordOptions{Codec: vision.H264, Quality: 12, Woven: vision.TopFirst}, "yuv420p", 38.0),
		Entry("H.264, bottom field first", vision.RecordOptions{Codec: vision.H264, Quality: 12, Woven: vision.BottomFirst, Chroma: vision.Chroma422}, "yuv422p", 38.0),
		Entry("Motion JPEG", vision.RecordOptions{Codec: vision.MJPEG}, "yuvj420p", 32.0),
		Entry("Motion JPEG, good, 4:4:4", vision.RecordOptions{Codec: vision.MJPEG, Quality: 95, Chroma: vision.Chroma444}, "yuvj444p", 38.0),
		Entry("Motion JPEG, 4:2:2, woven", vision.RecordOptions{Codec: vision.MJPEG, Chroma: vision.Chroma422, Woven: vision.BottomFirst}, "yuvj422p", 32.0),
		Entry("FFV1", vision.RecordOptions{Codec: vision.FFV1}, "bgr0", 60.0),
		Entry("FFV1, 4:2:0, woven", vision.RecordOptions{Codec: vision.FFV1, Chroma: vision.Chroma420, Woven: vision.TopFirst}, "yuv420p", 48.0),
		Entry("FFV1, 4:4:4", vision.RecordOptions{Codec: vision.FFV1, Chroma: vision.Chroma444}, "yuv444p", 48.0),
	)

	It("is the same file for the same pictures", func() {
		for _, o := range []vision.RecordOptions{{Codec: vision.H264}, {Codec: vision.FFV1}, {Codec: vision.MJPEG, Chroma: vision.Chroma422}} {
			recorded(path, o, 12)
			a, err := os.ReadFile(path)
			Expect(err).NotTo(HaveOccurred())
			recorded(path, o, 12)
			b, err := os.ReadFile(path)
			Expect(err).NotTo(HaveOccurred())
			Expect(bytes.Equal(a, b)).To(BeTrue(), string(o.Codec))
		}
	})

	It("has key pictures as often as it is told", func() {
		recorded(path, vision.RecordOptions{Codec: vision.H264, Group: 8}, 40)
		s, err := vision.ScanVideo(path)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Keys).To(Equal([]int{0, 8, 16, 24, 32}))
		_, keys := probed(path)
		Expect(keys).To(Equal(s.Keys))
	})

	It("shows pictures at the times that it is given", func() {
		for _, codec := range []vision.Codec{vision.H264, vision.MJPEG, vision.FFV1} {
			r, err := vision.CreateVideo(path, codec, 64, 64, 60)
			Expect(err).NotTo(HaveOccurred())
			img := numbered(1)
			defer img.Close()
			at, want := time.Duration(0), []time.Duration(nil)
			for i := range 50 {
				want = append(want, at)
				Expect(r.WriteAt(img, at)).To(Succeed())
				at += time.Duration(1+(i*i)%40) * time.Millisecond
			}
			at += 100 * time.Second // beyond what a cluster can hold
			want = append(want, at)
			Expect(r.WriteAt(img, at)).To(Succeed())
			Expect(r.WriteAt(img, at)).To(MatchError(vision.ErrStamp))
			Expect(r.WriteAt(img, at+400*time.Microsecond)).To(MatchError(vision.ErrStamp))
			Expect(r.Close()).To(Succeed())
			s, err := vision.ScanVideo(path)
			Expect(err).NotTo(HaveOccurred())
			Expect(s.Stamps).To(Equal(want))
			times, _ := probed(path)
			Expect(times).To(HaveLen(len(want)))
			for i, t := range times {
				Expect(t).To(BeNumerically("~", want[i].Seconds(), 1e-6))
			}
		}
	})

	// FFmpeg's encoder always has 8 for the mean of a block, the first number of
	// each table of 64 after its own number.
	It("quantises all but means as OpenCV's JPEG encoder of the same quality does", func() {
		tables := func(src []byte) (t []byte) { // the DQT segments of T.81 section B.2.4.1
			for i := 2; src[i+1] != 0xda; {
				n := int(src[i+2])<<8 | int(src[i+3])
				if src[i+1] == 0xdb {
					t = append(t, src[i+4:i+2+n]...)
				}
				i += 2 + n
			}
			return t
		}
		for _, q := range []int{10, 20, 50, 85, 95} {
			r, err := vision.CreateVideoWith(path, vision.RecordOptions{Codec: vision.MJPEG, Chroma: vision.Chroma444, Quality: q}, 64, 64, 60)
			Expect(err).NotTo(HaveOccurred())
			img := numbered(77)
			Expect(r.Write(img)).To(Succeed())
			Expect(r.Close()).To(Succeed())
			want, err := img.JPEG(q)
			Expect(err).NotTo(HaveOccurred())
			Expect(img.Close()).To(Succeed())
			got := ffmpeg("-i", path, "-c", "copy", "-f", "image2pipe", "-")
			a, b := tables(got), tables(want)
			Expect(a).To(HaveLen(130))
			Expect([]byte{a[1], a[66]}).To(Equal([]byte{8, 8}))
			a[1], a[66] = b[1], b[66]
			Expect(a).To(Equal(b), "quality %d", q)
		}
	})

	DescribeTable("refuses what is no choice",
		func(o vision.RecordOptions, h int, text string) {
			_, err := vision.CreateVideoWith(path, o, 64, h, 60)
			Expect(err).To(MatchError(path + ": recording failed: " + text))
			Expect(err).To(MatchError(vision.ErrNotWritten))
			Expect(path).NotTo(BeAnExistingFile())
		},
		Entry("quality of H.264", vision.RecordOptions{Codec: vision.H264, Quality: 52}, 64, `quality 52 of codec "H264"`),
		Entry("quality of FFV1", vision.RecordOptions{Codec: vision.FFV1, Quality: 1}, 64, `quality 1 of codec "FFV1"`),
		Entry("chroma", vision.RecordOptions{Codec: vision.MJPEG, Chroma: "410"}, 64, `unknown chroma "410"`),
		Entry("fields", vision.RecordOptions{Codec: vision.MJPEG, Woven: 3}, 64, "unknown order of fields 3"),
		Entry("group", vision.RecordOptions{Codec: vision.H264, Group: -1}, 64, "group of -1 pictures"),
		Entry("height of fields", vision.RecordOptions{Codec: vision.H264, Woven: vision.TopFirst}, 62, "wrong picture size: 64x62, the height of woven pictures must be a multiple of 4"),
	)
})
