package vision_test

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/vision"
)

// planes reads all pictures of a video: the bytes of the planes, nil for a
// picture without pixels. None may be damaged.
func planes(path string) [][]byte {
	GinkgoHelper()
	pics, damaged, end := readAll(path)
	Expect(end).To(Equal(io.EOF))
	Expect(damaged).NotTo(ContainElement(true))
	return pics
}

func readAll(path string) (pics [][]byte, damaged []bool, end error) {
	v, err := vision.OpenVideo(path)
	if err != nil {
		return nil, nil, err
	}
	defer v.Close()
	var p vision.Picture
	defer p.Close()
	for i := 0; ; i++ {
		if err := v.Read(&p); err != nil {
			return pics, damaged, err
		}
		if p.Index() != i || p.Stamp() != v.Scan().Stamps[i] {
			return pics, damaged, fmt.Errorf("picture %d comes as %d at %v", i, p.Index(), p.Stamp())
		}
		pics, damaged = append(pics, vision.PlanesOf(&p)), append(damaged, p.Damaged())
	}
}

var _ = Describe("reading pictures", func() {
	// ffmpeg's own decoding, in one thread, of the same file.
	DescribeTable("gives the planes that another reader sees, to the last bit, and so after any jump",
		func(name string, args ...string) {
			path := made(name, args...)
			want := ffmpeg("-threads", "1", "-i", path, "-fps_mode", "passthrough", "-f", "rawvideo", "-")
			got := planes(path)
			Expect(bytes.Equal(bytes.Join(got, nil), want)).To(BeTrue())

			v, err := vision.OpenVideo(path)
			Expect(err).NotTo(HaveOccurred())
			defer v.Close()
			rng := rand.New(rand.NewPCG(5, 5))
			var p vision.Picture
			defer p.Close()
			for range 25 {
				at := rng.IntN(len(got))
				Expect(v.Seek(at)).To(Succeed())
				for i := at; i < min(at+3, len(got)); i++ {
					Expect(v.Read(&p)).To(Succeed())
					Expect(p.Index()).To(Equal(i))
					Expect(p.Stamp()).To(Equal(v.Scan().Stamps[i]))
					Expect(bytes.Equal(vision.PlanesOf(&p), got[i])).To(BeTrue(), "picture %d after a jump to %d", i, at)
					Expect(p.Damaged()).To(BeFalse())
				}
			}
			Expect(v.Seek(len(got))).To(Succeed())
			Expect(v.Read(&p)).To(Equal(io.EOF))
			Expect(v.Seek(0)).To(Succeed())
			Expect(v.Read(&p)).To(Succeed())
			Expect(bytes.Equal(vision.PlanesOf(&p), got[0])).To(BeTrue())
			Expect(v.Seek(-1)).To(MatchError(vision.ErrOutside))
			Expect(v.Seek(len(got) + 1)).To(MatchError(vision.ErrOutside))
		}, kinds)

	It("keeps a picture valid after others and after the video is closed", func() {
		path := made("v.mkv", "-c:v", "libx264", "-pix_fmt", "yuv420p")
		v, err := vision.OpenVideo(path)
		Expect(err).NotTo(HaveOccurred())
		var first, again, second vision.Picture
		Expect(v.Read(&first)).To(Succeed())
		Expect(v.Read(&second)).To(Succeed())
		Expect(v.Seek(0)).To(Succeed())
		Expect(v.Read(&again)).To(Succeed())
		Expect(v.Close()).To(Succeed())
		Expect(first.Same(&again)).To(BeTrue())
		Expect(first.Same(&first)).To(BeTrue())
		Expect(first.Same(&second)).To(BeFalse())
		Expect(first.Size()).To(Equal(image.Pt(160, 120)))
		Expect(v.Seek(0)).NotTo(Succeed())
		Expect(v.Read(&second)).NotTo(Succeed())
		for _, p := range []*vision.Picture{&first, &again, &second} {
			Expect(p.Close()).To(Succeed())
			Expect(p.Empty()).To(BeTrue())
			Expect(p.Same(p)).To(BeFalse())
		}
	})

	DescribeTable("says what the stream says about fields",
		func(woven, top bool, args ...string) {
			p := firstPicture(made("v.mkv", args...))
			gotWoven, gotTop := p.Interlaced()
			Expect(gotWoven).To(Equal(woven))
			Expect(gotTop).To(Equal(top))
		},
		Entry("none", false, false, "-c:v", "libx264", "-pix_fmt", "yuv420p"),
		Entry("H.264, top first", true, true, "-c:v", "libx264", "-pix_fmt", "yuv420p", "-vf", "setfield=tff", "-x264-params", "tff=1"),
		Entry("H.264, bottom first", true, false, "-c:v", "libx264", "-pix_fmt", "yuv420p", "-x264-params", "bff=1"),
		Entry("the container only, top first", true, true, "-vf", "setfield=tff", "-c:v", "mjpeg", "-field_order", "tt", "-pix_fmt", "yuvj420p"),
		Entry("the container only, bottom first", true, false, "-vf", "setfield=bff", "-c:v", "mjpeg", "-field_order", "bb", "-pix_fmt", "yuvj420p"),
	)
})

// packetsOf is where ffprobe finds the packets of the video track.
func packetsOf(path string) (spans [][2]int) {
	GinkgoHelper()
	needs("ffprobe")
	out, err := exec.Command("ffprobe", "-v", "error", "-select_streams", "v:0", "-show_entries", "packet=pos,size", "-of", "csv=p=0", path).Output()
	Expect(err).NotTo(HaveOccurred())
	for line := range strings.Lines(string(out)) {
		f := strings.Split(strings.TrimSpace(line), ",")
		size, err := strconv.Atoi(f[0])
		Expect(err).NotTo(HaveOccurred())
		pos, err := strconv.Atoi(f[1])
		Expect(err).NotTo(HaveOccurred())
		spans = append(spans, [2]int{pos, size})
	}
	return spans
}

var _ = Describe("a damaged stream", func() {
	// Bytes of coded pictures are changed, and the container is left whole. The
	// number of pictures and their places stay, and no picture outside of the
	// groups that were hit is touched or called damaged. FFV1 has check sums, so
	// all that differs is told. H.264 and Motion JPEG have none: what happens to
	// be a valid picture cannot be told, and is only counted here.
	DescribeTable("keeps every picture in its place and tells the damaged ones",
		func(group int, sure bool, name string, args ...string) {
			path := made(name, append(args, "-g", strconv.Itoa(group))...)
			whole := planes(path)
			spans := packetsOf(path)
			src, err := os.ReadFile(path)
			Expect(err).NotTo(HaveOccurred())
			rng := rand.New(rand.NewPCG(6, 6))
			bad := filepath.Join(filepath.Dir(path), "bad"+filepath.Ext(path))
			wrong, told, silent := 0, 0, 0
			for range 12 {
				b := bytes.Clone(src)
				hit := map[int]bool{}
				for range 3 {
					k := 1 + rng.IntN(len(spans)-1)
					s := spans[k]
					hit[k/group] = true
					for range 8 { // behind the head of the picture
						b[s[0]+s[1]/3+rng.IntN(max(s[1]/2, 1))] ^= byte(1 + rng.IntN(255))
					}
				}
				Expect(os.WriteFile(bad, b, 0o600)).To(Succeed())
				pics, damaged, end := readAll(bad)
				Expect(end).To(Equal(io.EOF))
				Expect(pics).To(HaveLen(len(whole)))
				for i := range pics {
					differs := !bytes.Equal(pics[i], whole[i])
					if differs || damaged[i] {
						Expect(hit).To(HaveKey(i / group)) // closed groups: the same in the file and when shown
					}
					switch {
					case differs && damaged[i]:
						told++
					case differs:
						silent++
					}
					if differs {
						wrong++
					}
				}
			}
			AddReportEntry(fmt.Sprintf("%d pictures differ, %d of them told, %d not", wrong, told, silent))
			Expect(told).To(BeNumerically(">", 12))
			if sure {
				Expect(silent).To(BeZero())
			}
		},
		Entry("FFV1", 1, true, "v.mkv", "-c:v", "ffv1", "-level", "3", "-slicecrc", "1", "-pix_fmt", "yuv420p"),
		Entry("H.264", 15, false, "v.mp4", "-c:v", "libx264", "-pix_fmt", "yuv420p", "-sc_threshold", "0"),
		Entry("Motion JPEG", 1, false, "v.mkv", "-c:v", "mjpeg", "-pix_fmt", "yuvj420p"),
	)

	It("tells the same, and the same pixels, every time", func() {
		path := made("v.mp4", "-c:v", "libx264", "-pix_fmt", "yuv420p", "-g", "30")
		spans := packetsOf(path)
		src, err := os.ReadFile(path)
		Expect(err).NotTo(HaveOccurred())
		for _, k := range []int{7, 40, 41} {
			for i := range 6 {
				src[spans[k][0]+spans[k][1]/2+i] ^= 0x55
			}
		}
		Expect(os.WriteFile(path, src, 0o600)).To(Succeed())
		pics, damaged, _ := readAll(path)
		Expect(damaged).To(ContainElement(true))
		Expect(damaged[60:]).NotTo(ContainElement(true))
		for range 5 {
			again, told, _ := readAll(path)
			Expect(told).To(Equal(damaged))
			for i := range again {
				if !damaged[i] {
					Expect(bytes.Equal(again[i], pics[i])).To(BeTrue())
				}
			}
		}
	})

	It("gives a picture that cannot be decoded at all without pixels", func() {
		path := filepath.Join(GinkgoT().TempDir(), "v.mkv")
		record(path, vision.MJPEG, 30, 60)
		spans := packetsOf(path)
		src, err := os.ReadFile(path)
		Expect(err).NotTo(HaveOccurred())
		for _, k := range []int{11, 12} { // no start of a picture is left
			at := bytes.Index(src[spans[k][0]:], []byte{0xff, 0xd8, 0xff})
			Expect(at).To(BeNumerically("<", 20))
			clear(src[spans[k][0]+at : spans[k][0]+at+spans[k][1]-10])
		}
		Expect(os.WriteFile(path, src, 0o600)).To(Succeed())
		pics, damaged, end := readAll(path)
		Expect(end).To(Equal(io.EOF))
		Expect(pics).To(HaveLen(30))
		for i := range pics {
			Expect(damaged[i]).To(Equal(i == 11 || i == 12), "picture %d", i)
			Expect(pics[i] == nil).To(Equal(i == 11 || i == 12), "picture %d", i)
		}
		numbers, _, end := read(path) // Next repeats the one before
		Expect(end).To(Equal(io.EOF))
		Expect(numbers[10:14]).To(Equal([]int{10, 10, 10, 13}))

		v, err := vision.OpenVideo(path)
		Expect(err).NotTo(HaveOccurred())
		defer v.Close()
		Expect(v.Seek(11)).To(Succeed())
		var p vision.Picture
		Expect(v.Read(&p)).To(Succeed())
		Expect(p.Empty()).To(BeTrue())
		Expect(p.Size()).To(Equal(image.Pt(64, 64)))
		img := vision.NewImage()
		defer img.Close()
		Expect(p.Image(img)).To(MatchError(vision.ErrNoPicture))
		Expect((&vision.Normalizer{W: 8, H: 8}).Picture(&p, vision.AllLines, nil)).To(MatchError(vision.ErrNoPicture))
	})

	It("holds no memory when everything is closed", func() {
		Expect(vision.Frames()).To(BeZero())
		path := made("v.mkv", "-c:v", "libx264", "-pix_fmt", "yuv420p")
		for range 3 {
			_, _, err := readAll(path)
			Expect(errors.Is(err, io.EOF)).To(BeTrue())
		}
		v, err := vision.OpenVideo(path)
		Expect(err).NotTo(HaveOccurred())
		var p vision.Picture
		Expect(v.Read(&p)).To(Succeed())
		Expect(vision.Frames()).To(BeNumerically(">", 0))
		Expect(v.Close()).To(Succeed())
		Expect(vision.Frames()).To(Equal(int64(1)))
		Expect(p.Close()).To(Succeed())
		Expect(vision.Frames()).To(BeZero())
	})
})
