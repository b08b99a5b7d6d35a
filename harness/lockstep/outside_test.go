package lockstep_test

import (
	"bytes"
	"fmt"
	"os"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/lockstep"
	"latchproof/specs/console"
)

// Moving pictures that nobody here drew, spoilt by somebody else's filters at
// known frames: FFmpeg's test sources (ffmpeg-filters manual, "Video Sources")
// and the sample video of Debian's opencv-doc.

const (
	outsideFrames = 100
	outsideAt     = 61
	outsideW      = 256
	outsideH      = 240
)

// sampleVideo is where Debian's opencv-doc puts a sample video.
const sampleVideo = "/usr/share/doc/opencv-doc/examples/data/vtest.avi"

// outside makes a trace of a source through filters and an encoder.
func outside(source []string, filter string, encode ...string) (*lockstep.Memory, error) {
	var coded bytes.Buffer
	args := append(append([]string{}, source...), "-vf", filter, "-frames:v", fmt.Sprint(outsideFrames), "-an")
	if err := ffmpeg(nil, &coded, append(append(args, encode...), "-f", "matroska", "-")...); err != nil {
		return nil, err
	}
	t := &tracer{m: lockstep.NewMemory(lockstep.Layout{W: outsideW, H: outsideH})}
	err := ffmpeg(&coded, t, "-f", "matroska", "-i", "-", "-vf", fmt.Sprintf("scale=%d:%d:flags=area", outsideW, outsideH), "-pix_fmt", "yuvj444p", "-f", "rawvideo", "-")
	return t.m, err
}

var outsideSources = map[string][]string{
	"mandelbrot": {"-f", "lavfi", "-i", "mandelbrot=size=512x480:rate=60:start_scale=2:end_scale=0.1:end_pts=200"},
	"testsrc2":   {"-f", "lavfi", "-i", "testsrc2=size=512x480:rate=60"},
	"life":       {"-f", "lavfi", "-i", "life=size=64x60:rate=60:seed=7:ratio=0.3:mold=10:life_color=yellow:death_color=blue:mold_color=navy"},
	"cellauto":   {"-f", "lavfi", "-i", "cellauto=size=64x60:rate=60:rule=110:seed=5"},
	"sample":     {"-r", "60", "-i", sampleVideo},
}

var outsideCodecs = map[string][]string{
	"H.264 crf 23": {"-c:v", "libx264", "-crf", "23", "-preset", "veryfast", "-pix_fmt", "yuv420p", "-g", "48", "-threads", "1"},
	"H.264 crf 28": {"-c:v", "libx264", "-crf", "28", "-preset", "veryfast", "-pix_fmt", "yuv420p", "-g", "48", "-threads", "1"},
	"MJPEG q 6":    {"-c:v", "mjpeg", "-q:v", "6", "-pix_fmt", "yuvj420p"},
}

var _ = Describe("moving pictures from outside", func() {
	at := fmt.Sprint(outsideAt)
	for source, input := range outsideSources {
		for codec, encode := range outsideCodecs {
			It(fmt.Sprintf("part exactly: %s, %s", source, codec), func() {
				needFFmpeg()
				if slow {
					Skip("too slow under the race detector")
				}
				if codec == "H.264 crf 23" && source != "testsrc2" && base == 0 {
					Skip("to save time; LOCKSTEP_SEED brings it back")
				}
				if source == "sample" {
					if _, err := os.Stat(sampleVideo); err != nil {
						Skip("opencv-doc's sample video is not installed")
					}
				}
				// The last filter makes the two captures differ as captures do.
				shoot := func(seed int, spoil string) lockstep.Run {
					f := []string{fmt.Sprintf("scale=%d:%d:flags=neighbor", 2*outsideW, 2*outsideH)}
					if spoil != "" {
						f = append(f, spoil)
					}
					f = append(f, fmt.Sprintf("eq=brightness=%g:contrast=%g", 0.01*float64(seed), 1+0.02*float64(seed)),
						fmt.Sprintf("noise=alls=8:allf=t:all_seed=%d", 100+seed))
					m, err := outside(input, strings.Join(f, ","), encode...)
					Expect(err).NotTo(HaveOccurred())
					return lockstep.Run{Name: fmt.Sprint(spoil, seed), Trace: m, Reads: log(outsideFrames)}
				}
				a := shoot(0, "")
				compare := func(spoil string) lockstep.Report {
					rep, err := lockstep.Compare(a, shoot(1, spoil))
					Expect(err).NotTo(HaveOccurred())
					return rep
				}
				rep := compare("")
				Expect(rep.Divergence).To(BeNil(), "%+v", rep.Divergence)

				rep = compare("drawbox=x=240:y=200:w=40:h=32:color=red:t=fill:enable='gte(n," + at + ")'")
				Expect(rep.Divergence).NotTo(BeNil(), "a box; %v", rep.Suspects)
				Expect(rep.Divergence.Frame).To(Equal(console.Frame(outsideAt)), "a box: %+v", rep.Divergence)
				Expect(rep.Divergence.Kind).To(Equal(lockstep.KindPicture))

				rep = compare("drawbox=x=240:y=200:w=40:h=32:color=red:t=fill:enable='eq(n," + at + ")'")
				Expect(rep.Divergence).To(BeNil(), "a glitch: %+v", rep.Divergence)
				Expect(rep.Suspects).NotTo(BeEmpty(), "a glitch")
				Expect(rep.Suspects).To(ContainElement(HaveField("Frame", console.Frame(outsideAt))))

				rep = compare("setpts=(N+gt(N\\," + at + "))/60/TB,fps=60")
				Expect(rep.Divergence).NotTo(BeNil(), "a doubled frame; %v", rep.Suspects)
				Expect(rep.Divergence.Kind).To(Equal(lockstep.KindShift), "a doubled frame: %s", rep.Divergence.Why)
				Expect(rep.Divergence.Shift).To(Equal(1))
				Expect(rep.Divergence.Frame).To(Equal(console.Frame(outsideAt+1)), "a doubled frame: %s", rep.Divergence.Why)
			})
		}
	}
})
