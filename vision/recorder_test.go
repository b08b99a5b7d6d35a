package vision_test

import (
	"io/fs"
	"os"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/vision"
)

var _ = Describe("a recorder", func() {
	var dir string
	BeforeEach(func() { dir = GinkgoT().TempDir() })

	DescribeTable("refuses what it cannot do",
		func(name string, codec vision.Codec, w, h int, rate float64, text string) {
			path := filepath.Join(dir, name)
			_, err := vision.CreateVideo(path, codec, w, h, rate)
			Expect(err).To(MatchError(vision.ErrNotWritten))
			Expect(err).To(MatchError(path + ": recording failed: " + text))
			Expect(path).NotTo(BeAnExistingFile())
		},
		Entry("another codec", "v.mkv", vision.Codec("GIF"), 64, 64, 60.0, `unknown codec "GIF"`),
		Entry("another container", "v.avi", vision.MJPEG, 64, 64, 60.0, "the name must end in .mkv"),
		Entry("odd width", "v.mkv", vision.MJPEG, 63, 64, 60.0, "wrong picture size: 63x64, both sides must be even"),
		Entry("odd height", "v.mkv", vision.FFV1, 64, 63, 60.0, "wrong picture size: 64x63, both sides must be even"),
		Entry("no size", "v.mkv", vision.MJPEG, 0, 0, 60.0, "wrong picture size: 0x0, both sides must be even"),
		Entry("no rate", "v.mkv", vision.MJPEG, 64, 64, 0.0, "rate 0 Hz is not within 1..1000"),
		Entry("a missing folder", "no/v.mkv", vision.MJPEG, 64, 64, 60.0, "no such file or directory"),
	)

	It("says that a folder is in the way", func() {
		path := filepath.Join(dir, "v.mkv")
		Expect(os.Mkdir(path, 0o700)).To(Succeed())
		_, err := vision.CreateVideo(path, vision.MJPEG, 64, 64, 60)
		Expect(err).To(MatchError(path + ": recording failed: is a directory"))
	})

	It("says that it may not write", func() {
		if os.Geteuid() == 0 {
			Skip("the super-user may write everywhere")
		}
		Expect(os.Chmod(dir, 0o500)).To(Succeed())
		_, err := vision.CreateVideo(filepath.Join(dir, "v.mkv"), vision.MJPEG, 64, 64, 60)
		Expect(err).To(MatchError(fs.ErrPermission))
	})

	It("refuses pictures that do not fit and goes on", func() {
		path := filepath.Join(dir, "v.mkv")
		r, err := vision.CreateVideo(path, vision.MJPEG, 64, 64, 60)
		Expect(err).NotTo(HaveOccurred())
		none := vision.NewImage()
		defer none.Close()
		Expect(r.Write(none)).To(MatchError(vision.ErrNoPicture))
		other := imageOf(32, 64, make([]byte, 3*32*64))
		defer other.Close()
		Expect(r.Write(other)).To(MatchError(path + ": wrong picture size: 32x64 in a recording of 64x64"))
		img := numbered(5)
		defer img.Close()
		Expect(r.Write(img)).To(Succeed())
		Expect(r.Close()).To(Succeed())
		Expect(r.Close()).To(Succeed())
		Expect(r.Write(img)).To(MatchError(vision.ErrNotWritten))
		numbers, _, _ := read(path)
		Expect(numbers).To(Equal([]int{5}))
	})

	It("notices on closing that pictures are missing", func() {
		path := filepath.Join(dir, "v.mkv")
		r, err := vision.CreateVideo(path, vision.MJPEG, 64, 64, 60)
		Expect(err).NotTo(HaveOccurred())
		img := numbered(5)
		defer img.Close()
		for range 10 {
			Expect(r.Write(img)).To(Succeed())
		}
		// Somebody takes the file away while the encoder writes on.
		Expect(os.Rename(path, path+".old")).To(Succeed())
		Expect(os.WriteFile(path, nil, 0o600)).To(Succeed())
		err = r.Close()
		Expect(err).To(MatchError(vision.ErrNotWritten))
		Expect(err).To(MatchError(path + ": recording failed: the file is not whole: 0 of 10 pictures are in the file"))
		Expect(r.Close()).To(Equal(err))
	})
})

var _ = Describe("counting the pictures of a Matroska file", func() {
	It("counts those that are whole, wherever the file is cut", func() {
		path := filepath.Join(GinkgoT().TempDir(), "v.mkv")
		record(path, vision.MJPEG, 30, 60)
		whole, err := os.ReadFile(path)
		Expect(err).NotTo(HaveOccurred())
		Expect(vision.CountBlocks(path)).To(Equal(int64(30)))
		last := int64(0)
		var cuts []int
		for cut := 0; cut < len(whole); cut += 97 {
			cuts = append(cuts, cut)
		}
		for _, cut := range append(cuts, len(whole)) {
			Expect(os.WriteFile(path, whole[:cut], 0o600)).To(Succeed())
			n, _ := vision.CountBlocks(path)
			Expect(n).To(BeNumerically(">=", last))
			Expect(n).To(BeNumerically("<=", 30))
			if cut < len(whole)/2 {
				Expect(n).To(BeNumerically("<", 20))
			}
			last = n
		}
		Expect(last).To(Equal(int64(30)))
	})
})
