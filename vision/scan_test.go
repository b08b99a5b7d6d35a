package vision_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/vision"
)

// ffmpeg runs the tool on the arguments after "-v error".
func ffmpeg(args ...string) []byte {
	GinkgoHelper()
	needs("ffmpeg")
	var errs bytes.Buffer
	c := exec.Command("ffmpeg", append([]string{"-v", "error", "-nostdin", "-y"}, args...)...)
	c.Stderr = &errs
	out, err := c.Output()
	Expect(err).NotTo(HaveOccurred(), errs.String())
	return out
}

// moving is a moving test picture with noise, d seconds of w by h at 60 Hz.
func moving(w, h int, d string) []string {
	return []string{"-f", "lavfi", "-i", "testsrc2=s=" + strconv.Itoa(w) + "x" + strconv.Itoa(h) + ":r=60:d=" + d + ",noise=alls=12:allf=t:all_seed=7"}
}

// makings are the files that were made before, by what they were made with.
var makings = map[string][]byte{}

// made gives a file of 90 moving pictures, made by ffmpeg.
func made(name string, args ...string) string {
	GinkgoHelper()
	path := filepath.Join(GinkgoT().TempDir(), name)
	key := fmt.Sprint(name, args)
	if src, ok := makings[key]; ok {
		Expect(os.WriteFile(path, src, 0o600)).To(Succeed())
		return path
	}
	ffmpeg(append(append(moving(160, 120, "1.5"), args...), path)...)
	src, err := os.ReadFile(path)
	Expect(err).NotTo(HaveOccurred())
	makings[key] = src
	return path
}

// probed is what ffprobe says about every frame: its time and whether it is a
// key frame.
func probed(path string) (times []float64, keys []int) {
	GinkgoHelper()
	needs("ffprobe")
	out, err := exec.Command("ffprobe", "-v", "error", "-select_streams", "v:0", "-show_entries",
		"frame=key_frame,pts_time", "-of", "csv=p=0", path).Output()
	Expect(err).NotTo(HaveOccurred())
	r := csv.NewReader(bytes.NewReader(out))
	r.FieldsPerRecord = -1
	for i := 0; ; i++ {
		rec, err := r.Read()
		if err == io.EOF {
			return times, keys
		}
		Expect(err).NotTo(HaveOccurred())
		if rec[0] == "1" {
			keys = append(keys, i)
		}
		t, err := strconv.ParseFloat(rec[1], 64)
		Expect(err).NotTo(HaveOccurred())
		times = append(times, t)
	}
}

// probe is one entry of what ffprobe says about the video track.
func probe(path, entry string) []byte {
	GinkgoHelper()
	needs("ffprobe")
	out, err := exec.Command("ffprobe", "-v", "error", "-select_streams", "v:0", "-show_entries", entry, "-of", "csv=p=0", path).Output()
	Expect(err).NotTo(HaveOccurred())
	return bytes.TrimSpace(out)
}

// kinds of files, and how ffmpeg makes them.
var kinds = []TableEntry{
	Entry("H.264 with B pictures in MP4", "v.mp4", "-c:v", "libx264", "-pix_fmt", "yuv420p", "-g", "25"),
	Entry("H.264 with open groups", "v.mkv", "-c:v", "libx264", "-pix_fmt", "yuv420p", "-g", "25", "-x264-params", "open-gop=1:bframes=4:b-pyramid=normal"),
	Entry("H.264 in a transport stream", "v.ts", "-c:v", "libx264", "-pix_fmt", "yuv422p", "-g", "20"),
	Entry("H.264 with fields", "v.mkv", "-c:v", "libx264", "-pix_fmt", "yuv420p", "-g", "25", "-flags", "+ildct+ilme"),
	Entry("H.264 of uneven times", "v.mkv", "-vf", "select='not(eq(mod(n,7),3))*not(between(n,40,52))'", "-vsync", "vfr", "-c:v", "libx264", "-pix_fmt", "yuv420p", "-g", "25"),
	Entry("MP4 with an edit list", "v.mp4", "-c:v", "libx264", "-pix_fmt", "yuv420p", "-g", "25", "-movflags", "+faststart"),
	Entry("H.264 of 10 bits", "v.mkv", "-c:v", "libx264", "-pix_fmt", "yuv420p10le", "-g", "25"),
	Entry("Motion JPEG in AVI", "v.avi", "-c:v", "mjpeg", "-pix_fmt", "yuvj422p", "-q:v", "3"),
	Entry("Motion JPEG in Matroska", "v.mkv", "-c:v", "mjpeg", "-pix_fmt", "yuvj420p", "-q:v", "3"),
	Entry("FFV1 in Matroska", "v.mkv", "-c:v", "ffv1", "-pix_fmt", "yuv422p", "-level", "3"),
	Entry("FFV1 in R, G, B", "v.mkv", "-c:v", "ffv1", "-pix_fmt", "bgr0", "-level", "3"),
	Entry("MPEG-2 program stream", "v.mpg", "-c:v", "mpeg2video", "-bf", "2", "-g", "12", "-q:v", "3"),
	Entry("VP8 with hidden pictures", "v.webm", "-c:v", "libvpx", "-auto-alt-ref", "1", "-lag-in-frames", "16", "-g", "30", "-deadline", "realtime", "-cpu-used", "8"),
	Entry("VP9", "v.webm", "-c:v", "libvpx-vp9", "-g", "30", "-deadline", "realtime", "-cpu-used", "8"),
	Entry("plain YUV 4:2:2 packed", "v.avi", "-c:v", "rawvideo", "-pix_fmt", "yuyv422"),
	Entry("HuffYUV in AVI", "v.avi", "-c:v", "ffvhuff", "-pix_fmt", "yuv420p"),
}

var _ = Describe("scanning a video", func() {
	DescribeTable("gives the times and key pictures that another reader sees",
		func(name string, args ...string) {
			path := made(name, args...)
			times, keys := probed(path)
			Expect(times).NotTo(BeEmpty())
			s, err := vision.ScanVideo(path)
			Expect(err).NotTo(HaveOccurred())
			Expect(s.Stamps).To(HaveLen(len(times)))
			for i, t := range times { // ffprobe says six digits
				Expect(s.Stamps[i].Seconds()).To(BeNumerically("~", t-times[0], 1.01e-6), "picture %d", i)
			}
			Expect(s.Keys).To(Equal(keys))
			Expect(s.Info.Width).To(Equal(160))
			Expect(s.Info.Height).To(Equal(120))
		}, kinds)

	It("keeps to the edit list of an MP4 file", func() {
		long := made("long.mp4", "-c:v", "libx264", "-pix_fmt", "yuv420p", "-g", "25")
		cut := filepath.Join(filepath.Dir(long), "cut.mp4")
		ffmpeg("-ss", "0.55", "-i", long, "-c", "copy", cut) // copies from the key picture before, and hides what is too early
		times, _ := probed(cut)
		s, err := vision.ScanVideo(cut)
		Expect(err).NotTo(HaveOccurred())
		Expect(len(s.Stamps)).To(BeNumerically("<", 90))
		Expect(s.Stamps).To(HaveLen(len(times)))
		for i, t := range times {
			Expect(s.Stamps[i].Seconds()).To(BeNumerically("~", t-times[0], 1.01e-6), "picture %d", i)
		}
		pixels := planes(cut)
		Expect(pixels).To(HaveLen(len(times)))
	})

	It("knows the period of 60.0988 Hz to the time base of the file", func() {
		path := filepath.Join(GinkgoT().TempDir(), "v.mp4")
		ffmpeg("-f", "lavfi", "-i", "testsrc2=s=64x64:r=39375000/655171:d=1", "-c:v", "libx264", "-pix_fmt", "yuv420p",
			"-video_track_timescale", "39375000", path)
		s, err := vision.ScanVideo(path)
		Expect(err).NotTo(HaveOccurred())
		Expect(len(s.Stamps)).To(BeNumerically("~", 60, 1))
		for i, t := range s.Stamps { // 655171/39375000 s a picture, rounded to 1 ns
			want := (int64(i)*655171*1e9 + 39375000/2) / 39375000
			Expect(t).To(Equal(time.Duration(want)))
		}
	})

	It("refuses what OpenVideo refuses", func() {
		path := filepath.Join(GinkgoT().TempDir(), "list.mkv")
		Expect(os.WriteFile(path, []byte("#EXTM3U\n#EXTINF:1,\nv.mkv\n"), 0o600)).To(Succeed())
		_, err := vision.ScanVideo(path)
		Expect(err).To(MatchError(vision.ErrNoVideo))
		_, err = vision.ScanVideo(path + ".missing")
		Expect(err).To(MatchError(os.ErrNotExist))
	})
})
