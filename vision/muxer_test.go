package vision_test

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/at-wat/ebml-go"
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"gocv.io/x/gocv"

	"latchproof/vision"
)

// matroska is what the tests read back from a file, by the library's parser.
type matroska struct {
	Segment struct {
		SeekHead struct {
			Seek []struct {
				SeekID       []byte
				SeekPosition uint64
			}
		}
		Info struct {
			TimecodeScale uint64
			Duration      float64
		}
		Tracks struct {
			TrackEntry struct {
				DefaultDuration uint64
				CodecID         string
				Video           struct{ PixelWidth, PixelHeight uint64 }
			}
		}
		Cluster []struct {
			Timecode    uint64
			SimpleBlock []ebml.Block
		}
		Cues struct {
			CuePoint []struct {
				CueTime           uint64
				CueTrackPositions struct{ CueTrack, CueClusterPosition uint64 }
			}
		}
	}
}

func parse(src []byte) (m matroska) {
	GinkgoHelper()
	Expect(ebml.Unmarshal(bytes.NewReader(src), &m, ebml.WithIgnoreUnknown(true))).To(Succeed())
	return m
}

// photo is a JPEG picture by the Go standard library's encoder.
func photo(w, h int, seed uint64, quality int) []byte {
	GinkgoHelper()
	rng := rand.New(rand.NewPCG(seed, 5))
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for i := range img.Pix {
		img.Pix[i] = byte(rng.Uint32())
	}
	var buf bytes.Buffer
	Expect(jpeg.Encode(&buf, img, &jpeg.Options{Quality: quality})).To(Succeed())
	return buf.Bytes()
}

var _ = Describe("a Motion JPEG file", func() {
	var path string
	BeforeEach(func() { path = filepath.Join(GinkgoT().TempDir(), "v.mkv") })

	create := func(w, h int, rate float64) *vision.Recorder {
		GinkgoHelper()
		r, err := vision.CreateVideo(path, vision.MJPEG, w, h, rate)
		Expect(err).NotTo(HaveOccurred())
		return r
	}

	// The periods in ns are exact fractions, rounded: 1001/60000 s,
	// 655171/39375000 s, 1/50 s.
	DescribeTable("says its rate, duration and number of pictures to another reader",
		func(rate float64, period uint64) {
			const n = 150
			record(path, vision.MJPEG, n, rate)
			src, err := os.ReadFile(path)
			Expect(err).NotTo(HaveOccurred())
			m := parse(src)
			Expect(m.Segment.Tracks.TrackEntry.DefaultDuration).To(Equal(period))
			Expect(m.Segment.Tracks.TrackEntry.CodecID).To(Equal("V_MJPEG"))
			Expect(m.Segment.Info.TimecodeScale).To(Equal(uint64(1e6)))
			Expect(m.Segment.Info.Duration).To(BeNumerically("~", n*1000/rate, 1e-9))

			v, err := vision.OpenVideo(path)
			Expect(err).NotTo(HaveOccurred())
			Expect(v.Info().Frames).To(Equal(int64(n)))
			Expect(v.Info().FPS).To(BeNumerically("~", rate, 1e-4))
			Expect(v.Close()).To(Succeed())

			needs("ffprobe")
			out, err := exec.Command("ffprobe", "-v", "error", "-count_frames", "-show_entries",
				"stream=width,height,pix_fmt,avg_frame_rate,nb_read_frames:format=duration", "-of", "default=nw=1", path).CombinedOutput()
			Expect(err).NotTo(HaveOccurred())
			said := map[string]string{}
			for line := range strings.Lines(string(out)) {
				key, value, ok := strings.Cut(strings.TrimSpace(line), "=")
				Expect(ok).To(BeTrue(), "an error: %s", line)
				said[key] = value
			}
			num, den, _ := strings.Cut(said["avg_frame_rate"], "/")
			a, _ := strconv.ParseFloat(num, 64)
			b, _ := strconv.ParseFloat(den, 64)
			Expect(a / b).To(BeNumerically("~", rate, 1e-4))
			duration, err := strconv.ParseFloat(said["duration"], 64)
			Expect(err).NotTo(HaveOccurred())
			Expect(duration).To(BeNumerically("~", n/rate, 2e-6))
			delete(said, "avg_frame_rate")
			delete(said, "duration")
			Expect(said).To(Equal(map[string]string{"width": "64", "height": "64", "pix_fmt": "yuvj420p", "nb_read_frames": "150"}))
		},
		Entry("59.94 Hz", 60000./1001, uint64(16683333)),
		Entry("60.0988 Hz", 39375000./655171, uint64(16639263)),
		Entry("50 Hz", 50.0, uint64(20000000)),
	)

	It("has clusters of a second, and an index that points at them", func() {
		record(path, vision.MJPEG, 150, 60)
		src, err := os.ReadFile(path)
		Expect(err).NotTo(HaveOccurred())
		m := parse(src)
		var counts []int
		k := 0
		for _, c := range m.Segment.Cluster {
			counts = append(counts, len(c.SimpleBlock))
			for _, b := range c.SimpleBlock {
				Expect(float64(c.Timecode) + float64(b.Timecode)).To(Equal(math.Round(float64(k) * 1000 / 60)))
				Expect(b.Keyframe).To(BeTrue())
				k++
			}
		}
		Expect(counts).To(Equal([]int{60, 60, 30}))

		// The data of the segment begin after its identifier and eight bytes of
		// size; the segment reaches to the end of the file.
		segment := bytes.Index(src, []byte{0x18, 0x53, 0x80, 0x67}) + 12
		size := 0
		for _, b := range src[segment-7 : segment] {
			size = size<<8 | int(b)
		}
		Expect(size).To(Equal(len(src) - segment))
		Expect(m.Segment.Cues.CuePoint).To(HaveLen(3))
		for i, c := range m.Segment.Cues.CuePoint {
			Expect(c.CueTime).To(Equal(m.Segment.Cluster[i].Timecode))
			Expect(src[segment+int(c.CueTrackPositions.CueClusterPosition):]).To(HavePrefix("\x1f\x43\xb6\x75"))
		}
		Expect(m.Segment.SeekHead.Seek).To(HaveLen(3))
		for _, s := range m.Segment.SeekHead.Seek {
			Expect(src[segment+int(s.SeekPosition):]).To(HavePrefix(string(s.SeekID)))
		}
	})

	It("can be searched by another reader", func() {
		needs("ffmpeg")
		record(path, vision.MJPEG, 300, 60)
		out, err := exec.Command("ffmpeg", "-v", "error", "-ss", "3.5", "-i", path, "-frames:v", "1",
			"-f", "rawvideo", "-pix_fmt", "bgr24", "-").Output()
		Expect(err).NotTo(HaveOccurred())
		img := imageOf(64, 64, out)
		defer img.Close()
		Expect(numberOf(img)).To(Equal(210))
	})

	It("is the same file for the same pictures", func() {
		record(path, vision.MJPEG, 70, 60)
		a, err := os.ReadFile(path)
		Expect(err).NotTo(HaveOccurred())
		record(path, vision.MJPEG, 70, 60)
		Expect(os.ReadFile(path)).To(Equal(a))
	})

	It("can be read up to the last picture when the program is killed", func() {
		r := create(64, 64, 60)
		for i := range 100 {
			img := numbered(i)
			Expect(r.Write(img)).To(Succeed())
			Expect(img.Close()).To(Succeed())
		}
		// What a killed program leaves is what is in the file by now.
		left, err := os.ReadFile(path)
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Close()).To(Succeed())
		Expect(os.WriteFile(path, left, 0o600)).To(Succeed())
		numbers, stamps, end := read(path)
		Expect(end).To(Equal(io.EOF))
		Expect(numbers).To(HaveLen(100))
		for i, n := range numbers {
			Expect(n).To(Equal(i))
			Expect(stamps[i].Seconds()).To(BeNumerically("~", float64(i)/60, 0.0005001))
		}
		v, err := vision.OpenVideo(path)
		Expect(err).NotTo(HaveOccurred())
		Expect(v.Info()).To(Equal(vision.Info{Width: 64, Height: 64, FPS: 60, Container: "Matroska"}))
		Expect(v.Close()).To(Succeed())

		// Killed in the middle of a picture.
		Expect(os.WriteFile(path, left[:len(left)-100], 0o600)).To(Succeed())
		whole, err := vision.CountBlocks(path)
		Expect(err).To(HaveOccurred())
		Expect(whole).To(Equal(int64(99)))
		numbers, _, end = read(path)
		Expect(end).To(Equal(io.EOF))
		Expect(len(numbers)).To(BeElementOf(99, 100))

		needs("ffprobe")
		Expect(os.WriteFile(path, left, 0o600)).To(Succeed())
		out, err := exec.Command("ffprobe", "-v", "error", "-count_frames", "-show_entries",
			"stream=nb_read_frames", "-of", "csv=p=0", path).Output()
		Expect(err).NotTo(HaveOccurred())
		Expect(strings.TrimSpace(string(out))).To(Equal("100"))
	})

	It("holds ready JPEG pictures as they are", func() {
		var want []byte
		r := create(320, 240, 60)
		var sizes []int
		for i := range 70 {
			src := photo(320, 240, uint64(i), 1+i)
			Expect(r.WriteJPEG(src)).To(Succeed())
			want, sizes = append(want, src...), append(sizes, len(src))
		}
		Expect(r.Count()).To(Equal(int64(70)))
		Expect(r.Close()).To(Succeed())

		src, err := os.ReadFile(path)
		Expect(err).NotTo(HaveOccurred())
		var got []byte
		k := 0
		for _, c := range parse(src).Segment.Cluster {
			for _, b := range c.SimpleBlock {
				Expect(b.Data).To(HaveLen(1))
				Expect(b.Data[0]).To(HaveLen(sizes[k]))
				got = append(got, b.Data[0]...)
				k++
			}
		}
		Expect(bytes.Equal(got, want)).To(BeTrue())

		needs("ffmpeg")
		out, err := exec.Command("ffmpeg", "-v", "error", "-i", path, "-c", "copy", "-f", "image2pipe", "-").Output()
		Expect(err).NotTo(HaveOccurred())
		Expect(bytes.Equal(out, want)).To(BeTrue())
	})

	It("takes pictures and ready ones in turn", func() {
		r := create(64, 64, 60)
		for i := range 6 {
			img := numbered(i)
			if i%2 == 0 {
				Expect(r.Write(img)).To(Succeed())
			} else {
				src, err := img.JPEG(vision.JPEGQuality)
				Expect(err).NotTo(HaveOccurred())
				Expect(r.WriteJPEG(src)).To(Succeed())
			}
			Expect(img.Close()).To(Succeed())
		}
		Expect(r.Close()).To(Succeed())
		numbers, _, end := read(path)
		Expect(end).To(Equal(io.EOF))
		Expect(numbers).To(Equal([]int{0, 1, 2, 3, 4, 5}))
	})

	// libjpeg's decoder is another than the one that reads videos. Both may
	// round each of Y, Cb and Cr otherwise than exact arithmetic would, by 1
	// (ISO/IEC 10918-2, as IEEE 1180), and a level of Cb counts 1.772 in blue
	// (ITU-T T.871). Colours are flat over 32 pixels and looked at inside, so
	// that the two ways of enlarging 4:2:0 colour do not count.
	It("decodes to the pictures of another JPEG decoder", func() {
		const w, h = 640, 480
		rng := rand.New(rand.NewPCG(8, 8))
		r := create(w, h, 60)
		var srcs [][]byte
		for range 4 {
			bgr := make([]byte, 3*w*h)
			for y := range h / 32 {
				for x := range w / 32 {
					c := color.RGBA{R: byte(40 + rng.IntN(170)), G: byte(40 + rng.IntN(170)), B: byte(40 + rng.IntN(170))}
					for i := range 32 * 32 {
						at := 3 * ((32*y+i/32)*w + 32*x + i%32)
						d := byte(rng.IntN(31)) // the same for all three: luma only
						bgr[at], bgr[at+1], bgr[at+2] = c.B+d, c.G+d, c.R+d
					}
				}
			}
			img := imageOf(w, h, bgr)
			src, err := img.JPEG(vision.JPEGQuality)
			Expect(err).NotTo(HaveOccurred())
			Expect(r.Write(img)).To(Succeed())
			Expect(img.Close()).To(Succeed())
			srcs = append(srcs, src)
		}
		Expect(r.Close()).To(Succeed())

		v, err := vision.OpenVideo(path)
		Expect(err).NotTo(HaveOccurred())
		defer v.Close()
		img := vision.NewImage()
		defer img.Close()
		worst, off, n := 0, 0, 0
		for _, src := range srcs {
			Expect(v.Next(img)).To(Succeed())
			mat, err := gocv.IMDecode(src, gocv.IMReadColor)
			Expect(err).NotTo(HaveOccurred())
			want := mat.ToBytes()
			Expect(mat.Close()).To(Succeed())
			got := img.Bytes()
			Expect(got).To(HaveLen(len(want)))
			for i := range want {
				if x, y := i/3%w%32, i/3/w%32; x < 8 || x >= 24 || y < 8 || y >= 24 {
					continue
				}
				d := int(got[i]) - int(want[i])
				worst = max(worst, max(d, -d))
				off += max(d, -d)
				n++
			}
		}
		AddReportEntry(fmt.Sprintf("largest difference %d levels, mean %.3f", worst, float64(off)/float64(n)))
		Expect(worst).To(BeNumerically("<=", 3))
	})

	It("refuses what is no JPEG picture of its size, and goes on", func() {
		r := create(64, 64, 60)
		good := photo(64, 64, 1, 90)
		text := path + ": not JPEG: "
		var pic bytes.Buffer
		Expect(jpeg.Encode(&pic, image.NewGray(image.Rect(0, 0, 64, 62)), nil)).To(Succeed())
		Expect(r.WriteJPEG(nil)).To(MatchError(vision.ErrNotJPEG))
		Expect(r.WriteJPEG([]byte("\x89PNG\r\n\x1a\n"))).To(MatchError(text + "invalid JPEG format: missing SOI marker"))
		Expect(r.WriteJPEG(good[:20])).To(MatchError(vision.ErrNotJPEG))
		Expect(r.WriteJPEG(pic.Bytes())).To(MatchError(path + ": wrong picture size: 64x62 in a recording of 64x64"))
		Expect(r.WriteJPEG(pic.Bytes())).To(MatchError(vision.ErrSize))
		Expect(r.WriteJPEG(good)).To(Succeed())
		Expect(r.Count()).To(Equal(int64(1)))
		Expect(r.Close()).To(Succeed())
		Expect(r.WriteJPEG(good)).To(MatchError(vision.ErrNotWritten))
		Expect(vision.CountBlocks(path)).To(Equal(int64(1)))

		exact, err := vision.CreateVideo(path, vision.FFV1, 64, 64, 60)
		Expect(err).NotTo(HaveOccurred())
		Expect(exact.WriteJPEG(good)).To(MatchError(text + "it is not a recording in Motion JPEG"))
		img := numbered(3)
		defer img.Close()
		Expect(exact.Write(img)).To(Succeed())
		Expect(exact.Close()).To(Succeed())
	})
})
