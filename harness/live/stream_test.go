package live

import (
	"bytes"
	"context"
	"image"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/vision"
)

// ffmpeg runs FFmpeg, the tool from outside that these tests are held against,
// to its end.
func ffmpeg(args ...string) []byte {
	GinkgoHelper()
	path, err := exec.LookPath("ffmpeg")
	if err != nil {
		Skip("no ffmpeg")
	}
	cmd := exec.Command(path, append([]string{"-v", "error", "-nostdin", "-y"}, args...)...)
	var out, complaint bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &complaint
	Expect(cmd.Run()).To(Succeed(), complaint.String)
	return out.Bytes()
}

// feed has FFmpeg write into a FIFO in real time.
func feed(fifo string, args ...string) {
	GinkgoHelper()
	Expect(syscall.Mkfifo(fifo, 0o600)).To(Succeed())
	path, err := exec.LookPath("ffmpeg")
	if err != nil {
		Skip("no ffmpeg")
	}
	cmd := exec.Command(path, append(append([]string{"-v", "error", "-nostdin", "-y"}, args...), fifo)...)
	Expect(cmd.Start()).To(Succeed())
	DeferCleanup(func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
	})
}

var began = time.Now()

func now() time.Duration { return time.Since(began) }

// capture records a stream to its end and gives the path, the stamps and what is
// said of it.
func capture(o StreamOptions) (string, []time.Duration, Account) {
	GinkgoHelper()
	o.Now = now
	path := filepath.Join(GinkgoT().TempDir(), "capture.mkv")
	c := New(Options{Open: func(ctx context.Context) (Source, error) { return OpenStream(ctx, o) }, Now: now})
	Expect(c.Start(context.Background(), path)).To(Succeed())
	Eventually(c.Broken()).WithTimeout(30 * time.Second).Should(BeClosed())
	stamps, err := c.Stop(context.Background())
	Expect(err).To(MatchError(ErrGone))
	Expect(err).To(MatchError(ContainSubstring("ended")))
	Expect(c.Close()).To(Succeed())
	return path, stamps, c.Report()
}

const pictures = 45

var clip = []string{"-f", "lavfi", "-i", "testsrc2=size=160x120:rate=60", "-frames:v", "45"}

var _ = Describe("a stream that ffmpeg feeds in real time", func() {
	It("of Motion JPEG is kept byte for byte", func() {
		dir := GinkgoT().TempDir()
		source := filepath.Join(dir, "source.mkv")
		ffmpeg(append(clip, "-c:v", "mjpeg", "-q:v", "3", source)...)
		fifo := filepath.Join(dir, "fifo")
		feed(fifo, "-re", "-i", source, "-c", "copy", "-f", "matroska", "-cluster_time_limit", "0", "-flush_packets", "1")
		path, stamps, r := capture(StreamOptions{Path: fifo, Format: MJPEG})
		Expect(r.Pictures).To(BeEquivalentTo(pictures))
		Expect(r.Card).To(BeZero())
		Expect(r.Ours).To(BeZero())
		Expect(stamps).To(HaveLen(pictures))
		// The stream's own times, whole milliseconds, on the host's clock.
		for k := range stamps {
			Expect(stamps[k] - stamps[0]).To(BeNumerically("~", time.Duration(k)*time.Second/60, time.Millisecond))
		}
		want := ffmpeg("-i", source, "-c", "copy", "-f", "mjpeg", "-")
		Expect(len(want)).To(BeNumerically(">", pictures*1000))
		Expect(bytes.Equal(ffmpeg("-i", path, "-c", "copy", "-f", "mjpeg", "-"), want)).To(BeTrue())
	})

	DescribeTable("of pictures that are not coded is kept sample by sample",
		func(f Format, pixels string, bare bool) {
			if testing.Short() {
				Skip("real time, and FFmpeg starts slowly")
			}
			dir := GinkgoT().TempDir()
			want := ffmpeg(append(clip, "-pix_fmt", pixels, "-f", "rawvideo", "-")...)
			fifo := filepath.Join(dir, "fifo")
			o := StreamOptions{Path: fifo, Format: f}
			args := append([]string{"-re"}, clip...)
			if bare {
				o.Size, o.Rate = image.Pt(160, 120), 60
				feed(fifo, append(args, "-pix_fmt", pixels, "-f", "rawvideo")...)
			} else {
				feed(fifo, append(args, "-pix_fmt", pixels, "-c:v", "rawvideo", "-f", "matroska", "-cluster_time_limit", "0", "-flush_packets", "1")...)
			}
			path, stamps, r := capture(o)
			Expect(r.Pictures).To(BeEquivalentTo(pictures))
			Expect(r.Ours).To(BeZero())
			Expect(r.Card).To(BeZero())
			Expect(stamps).To(HaveLen(pictures))
			Expect(len(want)).To(Equal(pictures * f.Bytes(image.Pt(160, 120))))
			Expect(bytes.Equal(ffmpeg("-i", path, "-fps_mode", "passthrough", "-pix_fmt", pixels, "-f", "rawvideo", "-"), want)).To(BeTrue())
		},
		Entry("YUYV, bare", YUYV, "yuyv422", true),
		Entry("NV12, bare", NV12, "nv12", true),
		Entry("YUYV in Matroska", YUYV, "yuyv422", false),
		Entry("NV12 in Matroska", NV12, "nv12", false),
	)
})

var _ = Describe("opening a stream", func() {
	patience := time.Second
	open := func(content []byte, o StreamOptions) error {
		GinkgoHelper()
		o.Path, o.Now = filepath.Join(GinkgoT().TempDir(), "stream"), now
		Expect(os.WriteFile(o.Path, content, 0o600)).To(Succeed())
		ctx, cancel := context.WithTimeout(context.Background(), patience)
		defer cancel()
		s, err := OpenStream(ctx, o)
		if err == nil {
			Expect(s.Close()).To(Succeed())
		}
		return err
	}
	matroska := func(args ...string) []byte {
		return ffmpeg(append(append(clip[:4:4], "-frames:v", "2"), append(args, "-f", "matroska", "-")...)...)
	}

	It("says that there is none, or that nobody writes", func() {
		_, err := OpenStream(context.Background(), StreamOptions{Path: "/no/such/fifo", Now: now})
		Expect(err).To(MatchError(ErrNoCard))
		Expect(err).To(MatchError(ContainSubstring("/no/such/fifo: no such file")))
		_, err = OpenStream(context.Background(), StreamOptions{Path: "/dev/null", Now: now})
		Expect(err).To(MatchError(ContainSubstring("neither a FIFO nor a file")))
		fifo := filepath.Join(GinkgoT().TempDir(), "fifo")
		Expect(syscall.Mkfifo(fifo, 0o600)).To(Succeed())
		ctx, cancel := context.WithTimeout(context.Background(), 50*time.Millisecond)
		defer cancel()
		_, err = OpenStream(ctx, StreamOptions{Path: fifo, Format: MJPEG, Now: now})
		Expect(err).To(MatchError(ContainSubstring("nobody writes to it")))
	})

	It("refuses what is not what was asked for, and says what it is", func() {
		mjpeg := matroska("-c:v", "mjpeg")
		Expect(open(mjpeg, StreamOptions{})).To(Succeed())
		Expect(open(mjpeg, StreamOptions{Format: YUYV})).To(MatchError(ContainSubstring("are in mjpeg, and yuyv was asked for")))
		Expect(open(mjpeg, StreamOptions{Size: image.Pt(640, 480)})).To(MatchError(ContainSubstring("are of 160x120, and 640x480 were asked for")))
		Expect(open(matroska("-c:v", "ffv1"), StreamOptions{})).To(MatchError(ContainSubstring(`coded in "V_MS/VFW/FOURCC FFV1"`)))
		Expect(open([]byte("a text that is no video"), StreamOptions{Format: MJPEG})).To(MatchError(ContainSubstring("not Matroska")))
		Expect(open([]byte("bare pictures"), StreamOptions{Format: YUYV})).To(MatchError(ContainSubstring("need a size")))
		patience = 10 * time.Millisecond
		for i := range 60 { // heads that were changed: an error or not, never a crash
			bad := bytes.Clone(mjpeg[:400])
			bad[i*5] ^= 0xff
			_ = open(bad, StreamOptions{Format: MJPEG})
		}
	})

	It("goes on with a file while it grows", func() {
		path := filepath.Join(GinkgoT().TempDir(), "growing.yuv")
		f, err := os.Create(path)
		Expect(err).NotTo(HaveOccurred())
		defer f.Close()
		_, err = f.WriteString("abcdefghABCD")
		Expect(err).NotTo(HaveOccurred())
		s, err := OpenStream(context.Background(), StreamOptions{Path: path, Format: YUYV, Size: image.Pt(2, 2), Now: now, Silence: 20 * time.Millisecond})
		Expect(err).NotTo(HaveOccurred())
		defer s.Close()
		b, err := s.Next(context.Background())
		Expect(err).NotTo(HaveOccurred())
		Expect(string(b.Data)).To(Equal("abcdefgh"))
		Expect(b.Flags & Late).NotTo(BeZero())
		_, err = s.Next(context.Background())
		Expect(err).To(MatchError(ErrNoSignal))
		_, err = f.WriteString("EFGH")
		Expect(err).NotTo(HaveOccurred())
		for err = ErrNoSignal; err != nil; {
			b, err = s.Next(context.Background())
		}
		Expect(string(b.Data)).To(Equal("ABCDEFGH"))
	})

	It("says that a FIFO ended within a picture", func() {
		fifo := filepath.Join(GinkgoT().TempDir(), "fifo")
		Expect(syscall.Mkfifo(fifo, 0o600)).To(Succeed())
		go func() {
			if f, err := os.OpenFile(fifo, os.O_WRONLY, 0); err == nil {
				_, _ = io.WriteString(f, "abcdefghABCD")
				f.Close()
			}
		}()
		s, err := OpenStream(context.Background(), StreamOptions{Path: fifo, Format: YUYV, Size: image.Pt(2, 2), Now: now})
		Expect(err).NotTo(HaveOccurred())
		defer s.Close()
		_, err = s.Next(context.Background())
		Expect(err).NotTo(HaveOccurred())
		_, err = s.Next(context.Background())
		Expect(err).To(MatchError(ErrGone))
		Expect(err).To(MatchError(ContainSubstring("within a picture")))
	})
})

var _ = Describe("the file of a recording", func() {
	It("keeps also what is no picture, and tells when it is read", func() {
		path := filepath.Join(GinkgoT().TempDir(), "c.mkv")
		jpeg := ffmpeg(append(clip[:4:4], "-frames:v", "1", "-c:v", "mjpeg", "-f", "mjpeg", "-")...)
		f, err := Create(path, Info{Format: MJPEG, Size: image.Pt(160, 120), Rate: 60})
		Expect(err).NotTo(HaveOccurred())
		torn := append(bytes.Clone(jpeg[:len(jpeg)/2]), 0xff, 0xd9)
		for i, data := range [][]byte{jpeg, torn, []byte("garbage"), jpeg} {
			Expect(f.Write(Buffer{Data: data, Format: MJPEG}, time.Duration(i)*16*time.Millisecond)).To(Succeed())
		}
		Expect(f.Close()).To(Succeed())
		v, err := vision.OpenVideo(path)
		Expect(err).NotTo(HaveOccurred())
		defer v.Close()
		var p vision.Picture
		defer p.Close()
		var damaged []bool
		for v.Read(&p) == nil {
			damaged = append(damaged, p.Damaged())
		}
		Expect(damaged).To(Equal([]bool{false, true, true, false}))
	})

	It("moves times that are too near on by a millisecond", func() {
		path := filepath.Join(GinkgoT().TempDir(), "c.mkv")
		f, err := Create(path, Info{Format: NV12, Size: image.Pt(4, 4), Rate: 60})
		Expect(err).NotTo(HaveOccurred())
		for range 3 {
			Expect(f.Write(Buffer{Data: make([]byte, 24), Format: NV12}, 5*time.Millisecond)).To(Succeed())
		}
		Expect(f.Close()).To(Succeed())
		scan, err := vision.ScanVideo(path)
		Expect(err).NotTo(HaveOccurred())
		Expect(scan.Stamps).To(Equal([]time.Duration{0, time.Millisecond, 2 * time.Millisecond}))
	})
})
