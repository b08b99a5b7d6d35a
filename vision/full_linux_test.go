package vision_test

import (
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"golang.org/x/sys/unix"

	"latchproof/vision"
)

var _ = Describe("a full disk", Serial, func() {
	noise := func(seed uint64) *vision.Image {
		rng := rand.New(rand.NewPCG(seed, 2))
		bgr := make([]byte, 3*320*240)
		for i := range bgr {
			bgr[i] = byte(rng.Uint32())
		}
		return imageOf(320, 240, bgr)
	}
	small := func(size string) string {
		dir := GinkgoT().TempDir()
		if err := unix.Mount("tmpfs", dir, "tmpfs", 0, "size="+size); err != nil {
			Skip("mounting a small file system is not permitted here: " + err.Error())
		}
		DeferCleanup(func() { Expect(unix.Unmount(dir, 0)).To(Succeed()) })
		return dir
	}

	It("is reported by the recorder", func() {
		path := filepath.Join(small("4m"), "v.mkv")
		img := noise(2)
		defer img.Close()
		r, err := vision.CreateVideo(path, vision.MJPEG, 320, 240, 60)
		Expect(err).NotTo(HaveOccurred())
		wrote := 0
		for ; wrote < 1000 && err == nil; wrote++ {
			err = r.Write(img)
		}
		Expect(err).To(MatchError(vision.ErrDiskFull))
		Expect(wrote).To(BeNumerically("<", 500))
		closed := r.Close()
		Expect(closed).To(MatchError(vision.ErrNotWritten))
		Expect(closed).To(MatchError(vision.ErrDiskFull))
		// What is there can still be read: all pictures written without an error.
		Expect(vision.CountBlocks(path)).To(Equal(r.Count()))
		Expect(r.Count()).To(BeNumerically(">", 10))
		v, err := vision.OpenVideo(path)
		Expect(err).NotTo(HaveOccurred())
		Expect(v.Info().Frames).To(Equal(r.Count()))
		for err == nil {
			err = v.Next(img)
		}
		Expect(err).To(Equal(io.EOF))
		Expect(v.Count()).To(Equal(r.Count()))
		Expect(v.Close()).To(Succeed())
	})

	It("is reported when not even the head fits", func() {
		dir := small("4k")
		Expect(os.WriteFile(filepath.Join(dir, "fill"), make([]byte, 4096), 0o600)).To(Succeed())
		_, err := vision.CreateVideo(filepath.Join(dir, "v.mkv"), vision.MJPEG, 320, 240, 60)
		Expect(err).To(MatchError(vision.ErrNotWritten))
		Expect(err).To(MatchError(vision.ErrDiskFull))
	})

	It("is reported when an encoder of its own is in between", func() {
		for _, codec := range []vision.Codec{vision.FFV1, vision.H264} {
			path := filepath.Join(small("512k"), "v.mkv")
			r, err := vision.CreateVideo(path, codec, 320, 240, 60)
			Expect(err).NotTo(HaveOccurred())
			for i := 0; i < 200 && err == nil; i++ {
				img := noise(uint64(i))
				err = r.Write(img)
				Expect(img.Close()).To(Succeed())
			}
			Expect(err).To(MatchError(vision.ErrDiskFull))
			closed := r.Close()
			Expect(closed).To(MatchError(vision.ErrNotWritten))
			Expect(closed).To(MatchError(vision.ErrDiskFull))
			Expect(vision.CountBlocks(path)).To(BeNumerically("<=", r.Count()))
		}
	})

	It("is reported on closing when the encoder held pictures until then", func() {
		path := filepath.Join(small("256k"), "v.mkv")
		r, err := vision.CreateVideoWith(path, vision.RecordOptions{Codec: vision.H264, Quality: 1}, 320, 240, 60)
		Expect(err).NotTo(HaveOccurred())
		for i := range 10 { // it looks further ahead than that
			img := noise(uint64(i))
			Expect(r.Write(img)).To(Succeed())
			Expect(img.Close()).To(Succeed())
		}
		err = r.Close()
		Expect(err).To(MatchError(vision.ErrNotWritten))
		Expect(err).To(MatchError(vision.ErrDiskFull))
	})
})
