package vision_test

import (
	"os"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"golang.org/x/sys/unix"

	"latchproof/vision"
)

var _ = Describe("the native library", Serial, func() {
	It("writes nothing to stderr", func() {
		dir := GinkgoT().TempDir()
		good, bad := filepath.Join(dir, "good.mkv"), filepath.Join(dir, "bad.mkv")
		record(good, vision.MJPEG, 30, 60)
		whole, err := os.ReadFile(good)
		Expect(err).NotTo(HaveOccurred())

		log, err := os.Create(filepath.Join(dir, "stderr"))
		Expect(err).NotTo(HaveOccurred())
		defer log.Close()
		saved, err := unix.Dup(2)
		Expect(err).NotTo(HaveOccurred())
		Expect(unix.Dup3(int(log.Fd()), 2, 0)).To(Succeed())
		func() {
			defer unix.Dup3(saved, 2, 0)
			for cut := 100; cut < len(whole); cut += len(whole) / 8 {
				os.WriteFile(bad, whole[:cut], 0o600)
				read(bad)
			}
			for i := 600; i < len(whole); i += 50 {
				whole[i] ^= 0x5a
			}
			os.WriteFile(bad, whole, 0o600)
			read(bad)
			os.WriteFile(bad, append([]byte("\x1a\x45\xdf\xa3"), make([]byte, 4000)...), 0o600)
			read(bad)
			vision.CreateVideo(filepath.Join(dir, "no", "v.mkv"), vision.MJPEG, 64, 64, 60)
		}()
		Expect(unix.Close(saved)).To(Succeed())
		text, err := os.ReadFile(log.Name())
		Expect(err).NotTo(HaveOccurred())
		Expect(string(text)).To(BeEmpty())
	})
})
