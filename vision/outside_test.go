package vision_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"sync"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/vision"
	"latchproof/vision/screen"
)

var hasPython = sync.OnceValue(func() bool {
	return exec.Command("/usr/bin/python3", "-c", "import numpy, cv2, skimage").Run() == nil
})

// python runs a program with Debian's numpy, OpenCV and scikit-image, and reads
// the JSON that it prints.
func python(program string, into any, args ...string) {
	GinkgoHelper()
	if !hasPython() {
		Skip("python3-opencv and python3-skimage are not installed")
	}
	var errs bytes.Buffer
	c := exec.Command("/usr/bin/python3", append([]string{"-c", program}, args...)...)
	c.Stderr = &errs
	out, err := c.Output()
	Expect(err).NotTo(HaveOccurred(), errs.String())
	Expect(json.Unmarshal(out, into)).To(Succeed())
}

func onRaster(p *vision.Picture, lines vision.Lines, active image.Rectangle, w, h int) *screen.Screen {
	GinkgoHelper()
	n := &vision.Normalizer{Active: active, W: w, H: h}
	defer n.Close()
	s := screen.New(w, h)
	Expect(n.Picture(p, lines, s)).To(Succeed())
	return s
}

// farthest is the largest difference of two planes.
func farthest(a, b []byte) int {
	GinkgoHelper()
	Expect(a).To(HaveLen(len(b)))
	worst := 0
	for i := range a {
		worst = max(worst, max(int(a[i])-int(b[i]), int(b[i])-int(a[i])))
	}
	return worst
}

var _ = Describe("area means", func() {
	// OpenCV 4.6 from Python in 32-bit floating point, good to 1e-4 of a level.
	DescribeTable("are those of another program's INTER_AREA",
		func(w, h int, active image.Rectangle, rw, rh int) {
			r := newRaw(w, h, "mono", uint64(w*h))
			path := filepath.Join(GinkgoT().TempDir(), "p.raw")
			Expect(os.WriteFile(path, r.plane[0], 0o600)).To(Succeed())
			var want []float64
			python(`
import sys, json, cv2, numpy as np
path, w, h, x0, y0, x1, y1, rw, rh = sys.argv[1], *map(int, sys.argv[2:])
a = np.fromfile(path, np.uint8).reshape(h, w)[y0:y1, x0:x1].astype(np.float32)
print(json.dumps(cv2.resize(a, (rw, rh), interpolation=cv2.INTER_AREA).astype(float).ravel().tolist()))
`, &want, path, strconv.Itoa(w), strconv.Itoa(h), strconv.Itoa(active.Min.X), strconv.Itoa(active.Min.Y),
				strconv.Itoa(active.Max.X), strconv.Itoa(active.Max.Y), strconv.Itoa(rw), strconv.Itoa(rh))
			got := onRaster(r.picture(), vision.AllLines, active, rw, rh)
			worst := 0.0
			for i, v := range want {
				worst = max(worst, math.Abs(v-float64(got.Y[i])))
			}
			Expect(worst).To(BeNumerically("<=", 0.5+0.1))
		},
		Entry("1280x720", 1280, 720, image.Rect(0, 0, 1280, 720), 256, 240),
		Entry("1280x720 with pillars", 1280, 720, image.Rect(160, 0, 1120, 720), 256, 240),
		Entry("640x480 with a border", 640, 480, image.Rect(13, 9, 611, 471), 256, 240),
		Entry("720x480", 720, 480, image.Rect(8, 0, 712, 480), 256, 240),
	)

	// The numbers are exact fractions, confirmed by scikit-image 0.19.3
	// downscale_local_mean (whole factors) and OpenCV 4.6.0 in floating point.
	DescribeTable("are the exact fractions",
		func(w, h, rw, rh int, at func(x, y int) int, want []float64) {
			r := newRaw(w, h, "mono", 1)
			for i := range r.plane[0] {
				r.plane[0][i] = byte(at(i%w, i/w))
			}
			got := onRaster(r.picture(), vision.AllLines, image.Rectangle{}, rw, rh)
			for i, v := range want {
				Expect(float64(got.Y[i])).To(BeNumerically("~", v, 0.5+0.01), "pixel %d", i)
			}
		},
		Entry("4x4 to 2x2", 4, 4, 2, 2, func(x, y int) int {
			return []int{1, 3, 5, 7, 2, 4, 6, 8, 10, 20, 30, 40, 50, 60, 70, 80}[4*y+x]
		}, []float64{2.5, 6.5, 35, 55}),
		Entry("a row of 5 to 2", 5, 1, 2, 1, func(x, _ int) int { return 60 * x }, []float64{48, 192}),
		Entry("a row of 5 to 3", 5, 1, 3, 1, func(x, _ int) int { return 60 * x }, []float64{24, 120, 216}),
		Entry("a row of 5 to 4", 5, 1, 4, 1, func(x, _ int) int { return 60 * x }, []float64{12, 84, 156, 228}),
		Entry("6x6 to 4x4", 6, 6, 4, 4, func(x, y int) int { return (17*y + 29*x + 3*x*y) % 100 }, []float64{
			47. / 3, 167. / 3, 451. / 9, 137. / 3, 119. / 3, 365. / 9, 125. / 3, 383. / 9,
			527. / 9, 395. / 9, 160. / 3, 116. / 3, 181. / 3, 51, 404. / 9, 320. / 9}),
		Entry("6x6 to 3 columns and 5 rows", 6, 6, 3, 5, func(x, y int) int { return (17*y + 29*x + 3*x*y) % 100 }, []float64{
			211. / 12, 273. / 4, 427. / 12, 235. / 6, 77. / 2, 109. / 2, 243. / 4, 135. / 4, 127. / 4,
			49, 187. / 3, 127. / 3, 647. / 12, 197. / 4, 145. / 4}),
	)
})

var _ = Describe("the fields of a woven picture", func() {
	for _, space := range []string{"420jpeg", "420mpeg2", "422", "444", "mono"} {
		It("are those that another program separates, in "+space, func() {
			const w, h = 80, 64
			r := newRaw(w, h, space, 12)
			r.header = regexp.MustCompile(" Ip").ReplaceAllString(r.header, " It") + " XCOLORRANGE=FULL"
			path := filepath.Join(GinkgoT().TempDir(), "p.y4m")
			Expect(r.write(path, 1)).To(Succeed())
			apart := ffmpeg("-i", path, "-vf", "separatefields", "-f", "rawvideo", "-")
			size := w*h/2 + 2*r.cw*(r.ch/2)
			Expect(apart).To(HaveLen(2 * size))
			p := firstPicture(path)
			woven, top := p.Interlaced()
			Expect([]bool{woven, top}).To(Equal([]bool{true, true}))
			for i, lines := range []vision.Lines{vision.TopLines, vision.BottomLines} {
				field := apart[i*size:]
				// Nothing is resampled but chroma with half the lines, which lies a
				// quarter of a line higher in the top field, and lower in the bottom
				// field, than in the middle (H.262, figure 6-2).
				got := onRaster(p, lines, image.Rectangle{}, w, h/2)
				Expect(bytes.Equal(got.Y, field[:w*h/2])).To(BeTrue())
				at := sites[space]
				if at.dy == 2 {
					at.oy = []float64{0.75, 1.25}[i]
				}
				for c, plane := range [][]byte{got.Cb, got.Cr} {
					if r.cw == 0 {
						continue
					}
					from := field[w*h/2+c*r.cw*(r.ch/2):]
					for y := range h / 2 {
						for x := range w {
							want := mean(from, r.cw, r.ch/2, at, float64(x), float64(y), float64(x+1), float64(y+1), image.Rect(0, 0, w, h/2))
							Expect(math.Abs(float64(plane[y*w+x])-want)).To(BeNumerically("<=", 0.6), "chroma %d at %d, %d", c, x, y)
						}
					}
				}
			}
		})
	}

	It("lie inside the active rectangle of the whole picture", func() {
		r := newRaw(8, 16, "444", 1)
		for i := range r.plane[0] {
			r.plane[0][i] = byte(16 * (i / 8)) // the row
		}
		r.header += " XCOLORRANGE=FULL"
		p := r.picture()
		for _, c := range []struct {
			lines    vision.Lines
			from, to int
			rows     []byte
		}{
			{vision.TopLines, 4, 12, []byte{4, 6, 8, 10}}, {vision.BottomLines, 4, 12, []byte{5, 7, 9, 11}},
			{vision.TopLines, 5, 13, []byte{6, 8, 10, 12}}, {vision.BottomLines, 5, 13, []byte{5, 7, 9, 11}},
		} {
			got := onRaster(p, c.lines, image.Rect(0, c.from, 8, c.to), 8, 4)
			for i, row := range c.rows {
				Expect(got.Y[8*i]).To(Equal(16*row), "line %d of %v", i, c)
			}
		}
		n := &vision.Normalizer{Active: image.Rect(0, 4, 8, 5), W: 8, H: 4}
		defer n.Close()
		Expect(n.Picture(p, vision.BottomLines, screen.New(8, 4))).To(MatchError(vision.ErrOutside))
	})

	It("keep the chroma that both share when the stream is not interlaced", func() {
		r := newRaw(64, 64, "420jpeg", 5)
		r.header += " XCOLORRANGE=FULL"
		p := r.picture()
		whole := onRaster(p, vision.AllLines, image.Rectangle{}, 32, 16)
		for _, lines := range []vision.Lines{vision.TopLines, vision.BottomLines} {
			got := onRaster(p, lines, image.Rectangle{}, 32, 16)
			Expect(got.Cb).To(Equal(whole.Cb))
			Expect(got.Cr).To(Equal(whole.Cr))
			Expect(got.Y).NotTo(Equal(whole.Y))
		}
	})
})

var _ = Describe("range and matrix", func() {
	// zimg is another library than the one that decodes.
	DescribeTable("become full range BT.601 as zimg converts them",
		func(matrix, rng, zmatrix, zrange string) {
			dir := GinkgoT().TempDir()
			r := newRaw(64, 48, "444", 3)
			for i, p := range r.plane { // inside what limited range allows, and not too saturated
				for j := range p {
					p[j] = []byte{16 + p[j]%220, 90 + p[j]%76, 90 + p[j]%76}[i]
				}
			}
			y4m, path := filepath.Join(dir, "p.y4m"), filepath.Join(dir, "p.mkv")
			Expect(r.write(y4m, 1)).To(Succeed())
			// The samples are kept; only what the stream says about them is set.
			ffmpeg("-i", y4m, "-vf", "setparams=colorspace="+matrix+":range="+rng, "-c:v", "libx264", "-qp", "0", "-pix_fmt", "yuv444p",
				"-colorspace", matrix, "-color_range", rng, path)
			want := ffmpeg("-i", path, "-vf", "zscale=min="+zmatrix+":m=170m:rin="+zrange+":r=full:d=none,format=yuv444p", "-f", "rawvideo", "-")
			got := onRaster(firstPicture(path), vision.AllLines, image.Rectangle{}, 64, 48)
			n := 64 * 48
			for i, plane := range [][]byte{got.Y, got.Cb, got.Cr} {
				Expect(farthest(plane, want[i*n:(i+1)*n])).To(BeNumerically("<=", 1), "plane %d", i)
			}
		},
		Entry("BT.601, limited", "smpte170m", "tv", "170m", "limited"),
		Entry("BT.601, full", "smpte170m", "pc", "170m", "full"),
		Entry("BT.709, limited", "bt709", "tv", "709", "limited"),
		Entry("BT.709, full", "bt709", "pc", "709", "full"),
		Entry("BT.2020, limited", "bt2020nc", "tv", "2020_ncl", "limited"),
	)

	// Recommendation ITU-R BT.471: 75 % bars, by ffmpeg's own tables of codes
	// (smptebars: BT.601, smptehdbars: BT.709). A code is rounded to 8 bits in the
	// source; by the factors of range and matrix that is up to 1.1 levels.
	DescribeTable("show 75 % colour bars as they are",
		func(source, matrix string, first, width int) {
			path := filepath.Join(GinkgoT().TempDir(), "bars.mkv")
			ffmpeg("-f", "lavfi", "-i", source+"=s=1344x720:r=1", "-frames:v", "1", "-c:v", "ffv1", "-pix_fmt", "yuv444p",
				"-vf", "setparams=colorspace="+matrix+":range=tv", "-colorspace", matrix, "-color_range", "tv", path)
			got := onRaster(firstPicture(path), vision.AllLines, image.Rectangle{}, 1344/8, 720/8)
			for i, c := range [][3]float64{{1, 1, 1}, {1, 1, 0}, {0, 1, 1}, {0, 1, 0}, {1, 0, 1}, {1, 0, 0}, {0, 0, 1}} {
				r, g, b := 0.75*255*c[0], 0.75*255*c[1], 0.75*255*c[2]
				y := 0.299*r + 0.587*g + 0.114*b // ITU-T T.871
				at := 20*got.W + (first+width*i+width/2)/8
				Expect(float64(got.Y[at])).To(BeNumerically("~", y, 1.1), "bar %d", i)
				Expect(float64(got.Cb[at])).To(BeNumerically("~", 128+(b-y)/1.772, 1.1), "bar %d", i)
				Expect(float64(got.Cr[at])).To(BeNumerically("~", 128+(r-y)/1.402, 1.1), "bar %d", i)
			}
		},
		Entry("BT.601", "smptebars", "smpte170m", 0, 192),
		Entry("BT.709", "smptehdbars", "bt709", 168, 144),
	)
})

var _ = Describe("the quality of a captured picture", func() {
	// Two right area means differ in how they round: by less than 0.01 dB.
	It("is what ffmpeg and scikit-image measure, and that of ffmpeg's area scaler", func() {
		dir := GinkgoT().TempDir()
		path := filepath.Join(dir, "v.mkv")
		truth := lights(256, 240, 4)
		img := imageOf(1280, 720, project(truth, 1280, 720, image.Rect(0, 0, 1280, 720)))
		defer img.Close()
		r, err := vision.CreateVideoWith(path, vision.RecordOptions{Codec: vision.H264, Quality: 30, Chroma: vision.Chroma422}, 1280, 720, 60)
		Expect(err).NotTo(HaveOccurred())
		for range 3 {
			Expect(r.Write(img)).To(Succeed())
		}
		Expect(r.Close()).To(Succeed())
		got := onRaster(firstPicture(path), vision.AllLines, image.Rectangle{}, 256, 240)

		a, b := filepath.Join(dir, "a.raw"), filepath.Join(dir, "b.raw")
		Expect(os.WriteFile(a, truth.Y, 0o600)).To(Succeed())
		Expect(os.WriteFile(b, got.Y, 0o600)).To(Succeed())
		ours := psnr(truth.Y, got.Y)
		var theirs struct{ PSNR, SSIM float64 }
		python(`
import sys, json, numpy as np
from skimage.metrics import peak_signal_noise_ratio as psnr, structural_similarity as ssim
a, b = (np.fromfile(p, np.uint8).reshape(240, 256) for p in sys.argv[1:])
print(json.dumps({"PSNR": float(psnr(a, b, data_range=255)), "SSIM": float(ssim(a, b, data_range=255))}))
`, &theirs, a, b)
		Expect(ours).To(BeNumerically("~", theirs.PSNR, 1e-9))
		Expect(theirs.SSIM).To(BeNumerically(">", 0.98))

		grey := []string{"-f", "rawvideo", "-pix_fmt", "gray", "-s", "256x240"}
		in := append(append(append([]string{"-v", "info", "-nostdin"}, append(grey, "-i", a)...), grey...), "-i", b)
		out, err := exec.Command("ffmpeg", append(in, "-lavfi", "psnr", "-f", "null", "-")...).CombinedOutput()
		Expect(err).NotTo(HaveOccurred())
		m := regexp.MustCompile(`PSNR y:([0-9.]+)`).FindSubmatch(out)
		Expect(m).NotTo(BeNil(), string(out))
		filter, err := strconv.ParseFloat(string(m[1]), 64)
		Expect(err).NotTo(HaveOccurred())
		Expect(ours).To(BeNumerically("~", filter, 1e-5))

		area := ffmpeg("-i", path, "-frames:v", "1", "-vf", "scale=256:240:flags=area+accurate_rnd:in_range=tv:out_range=pc,format=gray", "-f", "rawvideo", "-")
		other := psnr(truth.Y, area)
		AddReportEntry(fmt.Sprintf("PSNR %.2f dB, ffmpeg's area scaler %.2f dB; SSIM %.4f", ours, other, theirs.SSIM))
		Expect(ours).To(BeNumerically("~", other, 0.01))
	})
})
