package vision_test

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/draw"
	_ "image/jpeg"
	"image/png"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/vision"
)

// decodeStd decodes with the Go standard library, which is not the encoder
// under test.
func decodeStd(src []byte, err error) []byte {
	ExpectWithOffset(1, err).NotTo(HaveOccurred())
	img, _, err := image.Decode(bytes.NewReader(src))
	ExpectWithOffset(1, err).NotTo(HaveOccurred())
	rgba := image.NewRGBA(img.Bounds())
	draw.Draw(rgba, rgba.Rect, img, image.Point{}, draw.Src)
	return rgba.Pix
}

// numbered is a picture whose number can be read back after compression: 16
// bits as black and white squares of 16 pixels.
func numbered(n int) *vision.Image {
	const w, h = 64, 64
	bgr := make([]byte, 3*w*h)
	for i := range w * h {
		x, y := i%w/16, i/w/16
		if n>>(4*y+x)&1 == 1 {
			bgr[3*i], bgr[3*i+1], bgr[3*i+2] = 255, 255, 255
		}
	}
	return imageOf(w, h, bgr)
}

func numberOf(img *vision.Image) int {
	n := 0
	for bit := range 16 {
		x, y := bit%4*16+8, bit/4*16+8
		if img.Bytes()[3*(y*64+x)+1] > 127 {
			n |= 1 << bit
		}
	}
	return n
}

// record writes n numbered pictures.
func record(path string, codec vision.Codec, n int, rate float64) {
	r, err := vision.CreateVideo(path, codec, 64, 64, rate)
	ExpectWithOffset(1, err).NotTo(HaveOccurred())
	for i := range n {
		img := numbered(i)
		ExpectWithOffset(1, r.Write(img)).To(Succeed())
		Expect(img.Close()).To(Succeed())
	}
	ExpectWithOffset(1, r.Close()).To(Succeed())
	ExpectWithOffset(1, r.Count()).To(Equal(int64(n)))
}

// read gives the numbers of all pictures, their stamps, and how it ended.
func read(path string) (numbers []int, stamps []time.Duration, end error) {
	v, err := vision.OpenVideo(path)
	if err != nil {
		return nil, nil, err
	}
	defer v.Close()
	img := vision.NewImage()
	defer img.Close()
	for {
		if err := v.Next(img); err != nil {
			return numbers, stamps, err
		}
		numbers, stamps = append(numbers, numberOf(img)), append(stamps, v.Stamp())
	}
}

func needs(tool string) {
	if _, err := exec.LookPath(tool); err != nil {
		Skip(tool + " is not installed")
	}
}

var _ = Describe("a video file", func() {
	var dir string
	BeforeEach(func() { dir = GinkgoT().TempDir() })

	DescribeTable("gives back every picture in order with its stamp",
		func(codec vision.Codec, rate float64) {
			path := filepath.Join(dir, "v.mkv")
			record(path, codec, 150, rate)
			numbers, stamps, end := read(path)
			Expect(end).To(Equal(io.EOF))
			Expect(numbers).To(HaveLen(150))
			for i, n := range numbers {
				Expect(n).To(Equal(i))
				Expect(stamps[i].Seconds()).To(BeNumerically("~", float64(i)/rate, 0.001))
			}
			v, err := vision.OpenVideo(path)
			Expect(err).NotTo(HaveOccurred())
			defer v.Close()
			info := v.Info()
			Expect(info.Frames).To(BeNumerically("~", 150, 1))
			Expect(info.FPS).To(BeNumerically("~", rate, 0.01))
			info.Frames, info.FPS = 0, 0
			Expect(info).To(Equal(vision.Info{Width: 64, Height: 64, Container: "Matroska"}))
		},
		Entry("Motion JPEG at 59.94 Hz", vision.MJPEG, 60000./1001),
		Entry("Motion JPEG at 60.0988 Hz", vision.MJPEG, 39375000./655171),
		Entry("FFV1 at 50 Hz", vision.FFV1, 50.0),
	)

	It("is the same to another reader", func() {
		needs("ffprobe")
		path := filepath.Join(dir, "v.mkv")
		record(path, vision.MJPEG, 37, 60)
		out, err := exec.Command("ffprobe", "-v", "error", "-count_frames", "-show_entries",
			"stream=codec_name,nb_read_frames", "-of", "csv=p=0", path).Output()
		Expect(err).NotTo(HaveOccurred())
		Expect(strings.TrimSpace(string(out))).To(Equal("mjpeg,37"))
		Expect(vision.CountBlocks(path)).To(Equal(int64(37)))
	})

	It("keeps every bit with FFV1, as another reader sees it too", func() {
		needs("ffmpeg")
		path := filepath.Join(dir, "v.mkv")
		rng := rand.New(rand.NewPCG(3, 3))
		var want []byte
		r, err := vision.CreateVideo(path, vision.FFV1, 48, 32, 60)
		Expect(err).NotTo(HaveOccurred())
		for range 3 {
			bgr := make([]byte, 3*48*32)
			for i := range bgr {
				bgr[i] = byte(rng.Uint32())
			}
			img := imageOf(48, 32, bgr)
			Expect(r.Write(img)).To(Succeed())
			img.Close()
			want = append(want, bgr...)
		}
		Expect(r.Close()).To(Succeed())
		out, err := exec.Command("ffmpeg", "-v", "error", "-i", path, "-f", "rawvideo", "-pix_fmt", "bgr24", "-").Output()
		Expect(err).NotTo(HaveOccurred())
		Expect(bytes.Equal(out, want)).To(BeTrue())
		v, err := vision.OpenVideo(path)
		Expect(err).NotTo(HaveOccurred())
		defer v.Close()
		img := vision.NewImage()
		defer img.Close()
		for i := range 3 {
			Expect(v.Next(img)).To(Succeed())
			Expect(bytes.Equal(img.Bytes(), want[i*3*48*32:(i+1)*3*48*32])).To(BeTrue())
		}
		Expect(v.Next(img)).To(Equal(io.EOF))
	})

	It("may have an awkward name", func() {
		for _, name := range []string{"take %03d.mkv", "0.mkv", "a:b.mkv", "file:x.mkv", "Straße 1 ü.mkv", "-v.mkv", "pipe:1.mkv", "100%.mkv", "take%02d.png.mkv"} {
			path := filepath.Join(dir, name)
			record(path, vision.MJPEG, 3, 60)
			numbers, _, end := read(path)
			Expect(end).To(Equal(io.EOF), name)
			Expect(numbers).To(Equal([]int{0, 1, 2}), name)
		}
	})

	It("may be named relative to the working folder, even as a number", func() {
		wd, err := os.Getwd()
		Expect(err).NotTo(HaveOccurred())
		record(filepath.Join(dir, "v.mkv"), vision.MJPEG, 2, 60)
		Expect(os.Rename(filepath.Join(dir, "v.mkv"), filepath.Join(dir, "0"))).To(Succeed())
		Expect(os.Chdir(dir)).To(Succeed())
		defer func() { Expect(os.Chdir(wd)).To(Succeed()) }()
		numbers, _, end := read("0")
		Expect(end).To(Equal(io.EOF))
		Expect(numbers).To(Equal([]int{0, 1}))
	})

	It("is refused with a plain reason when it is none", func() {
		file := func(name string, content []byte) string {
			path := filepath.Join(dir, name)
			Expect(os.WriteFile(path, content, 0o600)).To(Succeed())
			return path
		}
		rubbish := make([]byte, 5000)
		rng := rand.New(rand.NewPCG(1, 1))
		for i := range rubbish {
			rubbish[i] = byte(rng.Uint32())
		}
		var pic bytes.Buffer
		Expect(png.Encode(&pic, image.NewGray(image.Rect(0, 0, 64, 64)))).To(Succeed())
		missing := filepath.Join(dir, "missing.mkv")
		for _, c := range []struct {
			path string
			is   error
			text string
		}{
			{missing, vision.ErrNoVideo, "no video: no such file or directory"},
			{dir, vision.ErrNoVideo, "no video: it is a folder"},
			{"/dev/null", vision.ErrNoVideo, "no video: it is not a regular file"},
			{file("empty.mkv", nil), vision.ErrEmpty, "no pictures: the file is empty"},
			{file("text.mkv", []byte("this is no video\n")), vision.ErrNoVideo, "no video: it is text"},
			{file("list.m3u8", []byte("#EXTM3U\n#EXTINF:1,\nv.mkv\n")), vision.ErrNoVideo, "no video: it is text"},
			{file("concat.txt", []byte("ffconcat version 1.0\nfile v.mkv\n")), vision.ErrNoVideo, "no video: it is text"},
			{file("p%d.png", pic.Bytes()), vision.ErrNoVideo, "no video: it is a PNG picture"},
			{file("p1.png", pic.Bytes()), vision.ErrNoVideo, "no video: it is a PNG picture"},
			{file("rubbish.mkv", rubbish), vision.ErrNoVideo, "no video: its first bytes are those of no video container"},
			{file("magic.mkv", append([]byte("\x1a\x45\xdf\xa3"), rubbish...)), vision.ErrNoVideo,
				"no video: the Matroska file cannot be opened; it is damaged, cut short or holds no video"},
			{file("magic.mp4", append([]byte("\x00\x00\x00\x18ftypisom"), rubbish...)), vision.ErrNoVideo,
				"no video: the MP4 file cannot be opened; it is damaged, cut short or holds no video"},
		} {
			_, err := vision.OpenVideo(c.path)
			Expect(err).To(MatchError(c.path + ": " + c.text))
			Expect(err).To(MatchError(c.is))
		}
		_, err := vision.OpenVideo(missing)
		Expect(err).To(MatchError(fs.ErrNotExist))
	})

	It("is refused when it has no picture", func() {
		path := filepath.Join(dir, "v.mkv")
		r, err := vision.CreateVideo(path, vision.MJPEG, 64, 64, 60)
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Close()).To(Succeed())
		_, err = vision.OpenVideo(path)
		Expect(err).To(MatchError(vision.ErrEmpty))
		Expect(err).To(MatchError(path + ": no pictures: the Matroska file is whole but holds none"))
	})

	It("is refused when it holds sound only", func() {
		needs("ffmpeg")
		path := filepath.Join(dir, "v.mkv")
		Expect(exec.Command("ffmpeg", "-v", "error", "-f", "lavfi", "-i", "sine=d=1", path).Run()).To(Succeed())
		_, err := vision.OpenVideo(path)
		Expect(err).To(MatchError(vision.ErrNoVideo))
	})

	It("says when it was cut short, after giving what is there", func() {
		path := filepath.Join(dir, "v.mkv")
		record(path, vision.MJPEG, 120, 60)
		st, err := os.Stat(path)
		Expect(err).NotTo(HaveOccurred())
		Expect(os.Truncate(path, st.Size()/2)).To(Succeed())
		numbers, _, end := read(path)
		Expect(end).To(MatchError(vision.ErrTruncated))
		Expect(end.Error()).To(HavePrefix(path + ": cut short: "))
		Expect(len(numbers)).To(BeNumerically("~", 60, 15))
		for i, n := range numbers[:len(numbers)-1] { // the last may be half a picture
			Expect(n).To(Equal(i))
		}
	})

	It("gives the same end again", func() {
		path := filepath.Join(dir, "v.mkv")
		record(path, vision.MJPEG, 2, 60)
		v, err := vision.OpenVideo(path)
		Expect(err).NotTo(HaveOccurred())
		img := vision.NewImage()
		defer img.Close()
		Expect(v.Stamp()).To(BeZero())
		Expect(v.Count()).To(BeZero())
		Expect(v.Next(img)).To(Succeed())
		Expect(v.Next(img)).To(Succeed())
		Expect(v.Next(img)).To(Equal(io.EOF))
		Expect(v.Next(img)).To(Equal(io.EOF))
		Expect(v.Count()).To(Equal(int64(2)))
		Expect(numberOf(img)).To(Equal(1))
		Expect(v.Close()).To(Succeed())
		Expect(v.Close()).To(Succeed())
		Expect(v.Next(img)).To(HaveOccurred())
	})

	It("never brings the program down, wherever it is cut or damaged", func() {
		path := filepath.Join(dir, "v.mkv")
		record(path, vision.MJPEG, 40, 60)
		whole, err := os.ReadFile(path)
		Expect(err).NotTo(HaveOccurred())
		rng := rand.New(rand.NewPCG(9, 9))
		bad := filepath.Join(dir, "bad.mkv")
		for i := range 60 {
			src := bytes.Clone(whole)
			if i%2 == 0 {
				src = src[:rng.IntN(len(src))]
			} else {
				for range 1 + rng.IntN(40) {
					src[rng.IntN(len(src))] = byte(rng.Uint32())
				}
			}
			Expect(os.WriteFile(bad, src, 0o600)).To(Succeed())
			numbers, _, end := read(bad)
			if len(numbers) == 0 {
				Expect(errors.Is(end, vision.ErrNoVideo) || errors.Is(end, vision.ErrEmpty)).To(BeTrue(), fmt.Sprint(end))
			} else {
				Expect(end == io.EOF || errors.Is(end, vision.ErrTruncated)).To(BeTrue(), fmt.Sprint(end))
			}
		}
	})

	It("gives every picture of an H.264 file its time, the last one too", func() {
		needs("ffmpeg")
		path := filepath.Join(GinkgoT().TempDir(), "h264.mp4")
		Expect(exec.Command("ffmpeg", "-v", "error", "-f", "lavfi", "-i", "testsrc2=s=320x240:r=60000/1001:d=1",
			"-c:v", "libx264", "-pix_fmt", "yuv420p", path).Run()).To(Succeed())
		v, err := vision.OpenVideo(path)
		Expect(err).NotTo(HaveOccurred())
		defer v.Close()
		img := vision.NewImage()
		defer img.Close()
		k := 0
		for ; v.Next(img) == nil; k++ {
			want := time.Duration(float64(k) * 1001 / 60000 * 1e9)
			Expect(v.Stamp()).To(BeNumerically("~", want, time.Millisecond), "picture %d", k)
		}
		Expect(k).To(Equal(60))
	})

	It("reads H.264 in MP4 and says when its index is gone", func() {
		needs("ffmpeg")
		path := filepath.Join(dir, "v.mp4")
		out, err := exec.Command("ffmpeg", "-v", "error", "-f", "lavfi", "-i", "testsrc2=s=320x240:r=60:d=1",
			"-c:v", "libx264", "-pix_fmt", "yuv420p", path).CombinedOutput()
		if err != nil {
			Skip("this ffmpeg cannot write H.264: " + string(out))
		}
		v, err := vision.OpenVideo(path)
		Expect(err).NotTo(HaveOccurred())
		Expect(v.Info()).To(Equal(vision.Info{Width: 320, Height: 240, FPS: 60, Frames: 60, Container: "MP4"}))
		img := vision.NewImage()
		defer img.Close()
		for err == nil {
			err = v.Next(img)
		}
		Expect(err).To(Equal(io.EOF))
		Expect(v.Count()).To(Equal(int64(60)))
		Expect(v.Close()).To(Succeed())
		st, err := os.Stat(path)
		Expect(err).NotTo(HaveOccurred())
		Expect(os.Truncate(path, st.Size()/2)).To(Succeed())
		_, err = vision.OpenVideo(path)
		Expect(err).To(MatchError(ContainSubstring("the MP4 file cannot be opened; it is damaged, cut short")))
	})
})
