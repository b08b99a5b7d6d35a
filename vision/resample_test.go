package vision_test

import (
	"fmt"
	"image"
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/vision"
	"latchproof/vision/screen"
)

// where is a chroma plane against luma: sample (i, j) is centred at luma place
// (dx·i + ox, dy·j + oy), where luma sample (0, 0) is centred at (0.5, 0.5).
type where struct{ dx, dy, ox, oy float64 }

var sites = map[string]where{
	"420jpeg":  {2, 2, 1, 1},     // between, both ways: JFIF
	"420mpeg2": {2, 2, 0.5, 1},   // above the left one: H.262, figure 6-1
	"420paldv": {2, 2, 0.5, 0.5}, // on the top left one: IEC 61834
	"422":      {2, 1, 0.5, 0.5},
	"444":      {1, 1, 0.5, 0.5},
	"411":      {4, 1, 0.5, 0.5},
	"mono":     {1, 1, 0.5, 0.5},
}

// mean is the mean of a plane over a rectangle of luma places, each sample
// filling the cell around its centre; past the edges the last ones repeat.
// Where the rectangle is smaller than a cell it is bilinear at the middle.
func mean(plane []byte, w, h int, at where, x0, y0, x1, y1 float64, keep image.Rectangle) float64 {
	along := func(a, b, d, o float64, n int, lo, hi float64) map[int]float64 {
		first := max(int(math.Floor((lo-o)/d+0.5+1e-9)), 0)
		last := min(int(math.Ceil((hi-o)/d+0.5-1e-9)), n) - 1
		clamp := func(i int) int { return min(max(i, first), last) }
		weight := map[int]float64{}
		if (b-a)/d < 1-1e-9 {
			c := ((a+b)/2 - o) / d
			i := math.Floor(c)
			weight[clamp(int(i))] += 1 - (c - i)
			weight[clamp(int(i)+1)] += c - i
			return weight
		}
		for i := -2; i < n+2; i++ {
			c := o + float64(i)*d
			over := min(b, c+d/2) - max(a, c-d/2)
			if over > 0 {
				weight[clamp(i)] += over / (b - a)
			}
		}
		return weight
	}
	sum := 0.0
	for j, wy := range along(y0, y1, at.dy, at.oy, h, float64(keep.Min.Y), float64(keep.Max.Y)) {
		for i, wx := range along(x0, x1, at.dx, at.ox, w, float64(keep.Min.X), float64(keep.Max.X)) {
			sum += wx * wy * float64(plane[j*w+i])
		}
	}
	return sum
}

var _ = Describe("a decoded picture on the raster", func() {
	// The definition, in floating point, against the fixed-point code; the one
	// rounding to 8 bits may go either way when the exact value is within the
	// documented 0.1 level of the middle.
	DescribeTable("is the area mean of its own planes, chroma where it is sited",
		func(w, h int, space string, active image.Rectangle, rw, rh int) {
			r := newRaw(w, h, space, uint64(w+h))
			r.header += " XCOLORRANGE=FULL"
			n := &vision.Normalizer{Active: active, W: rw, H: rh}
			defer n.Close()
			got := screen.New(1, 1)
			Expect(n.Picture(r.picture(), vision.AllLines, got)).To(Succeed())
			Expect([]int{got.W, got.H}).To(Equal([]int{rw, rh}))
			if active.Empty() {
				active = image.Rect(0, 0, w, h)
			}
			worst := 0.0
			for i, plane := range [][]byte{got.Y, got.Cb, got.Cr} {
				at, pw, ph := sites["444"], w, h
				if i > 0 {
					at, pw, ph = sites[space], r.cw, r.ch
				}
				for y := range rh {
					for x := range rw {
						want := 128.0
						if pw > 0 {
							fx := func(k int) float64 {
								return float64(active.Min.X) + float64(active.Dx())*float64(k)/float64(rw)
							}
							fy := func(k int) float64 {
								return float64(active.Min.Y) + float64(active.Dy())*float64(k)/float64(rh)
							}
							want = mean(r.plane[i], pw, ph, at, fx(x), fy(y), fx(x+1), fy(y+1), active)
						}
						worst = max(worst, math.Abs(float64(plane[y*rw+x])-want))
					}
				}
			}
			AddReportEntry(fmt.Sprintf("largest difference from the exact mean, before rounding %.4f", worst-0.5))
			Expect(worst).To(BeNumerically("<=", 0.5+0.1))
		},
		Entry("4:4:4 by 5 and 3", 320, 90, "444", image.Rectangle{}, 64, 30),
		Entry("4:2:0 between", 160, 120, "420jpeg", image.Rectangle{}, 64, 60),
		Entry("4:2:0 left", 160, 120, "420mpeg2", image.Rectangle{}, 64, 60),
		Entry("4:2:0 top left", 160, 120, "420paldv", image.Rectangle{}, 64, 60),
		Entry("4:2:2", 180, 60, "422", image.Rectangle{}, 64, 60),
		Entry("4:1:1", 180, 60, "411", image.Rectangle{}, 64, 60),
		Entry("grey", 180, 60, "mono", image.Rectangle{}, 64, 60),
		Entry("an active rectangle with odd edges", 160, 120, "420mpeg2", image.Rect(11, 7, 150, 117), 64, 60),
		Entry("the raster's own size", 64, 60, "444", image.Rectangle{}, 64, 60),
		Entry("the raster's own size, 4:2:0", 64, 60, "420jpeg", image.Rectangle{}, 64, 60),
		Entry("smaller than the raster", 50, 33, "420mpeg2", image.Rect(3, 2, 49, 31), 64, 60),
		Entry("wider and lower than the raster", 161, 37, "422", image.Rectangle{}, 64, 60),
		Entry("eight for one", 512, 480, "420jpeg", image.Rectangle{}, 64, 60),
		Entry("odd sizes", 131, 97, "420mpeg2", image.Rectangle{}, 37, 23),
	)
})

var _ = Describe("the ways of resampling", Serial, func() {
	const all = 1 | 2 | 4
	AfterEach(func() { vision.ResampleWays(all) })

	DescribeTable("give the same to the last bit",
		func(w, h int, space string, active image.Rectangle, rw, rh int) {
			p := newRaw(w, h, space, uint64(7*w+h)).picture()
			shot := func(way int, lines vision.Lines) *screen.Screen {
				Expect(vision.ResampleWays(way)).To(Equal(way))
				n := &vision.Normalizer{Active: active, W: rw, H: rh}
				defer n.Close()
				got := screen.New(1, 1)
				Expect(n.Picture(p, lines, got)).To(Succeed())
				return got
			}
			for _, lines := range []vision.Lines{vision.AllLines, vision.TopLines, vision.BottomLines} {
				plain := shot(1, lines)
				for way := range 3 {
					if way = 1 << way; vision.ResampleWays(way) == way {
						Expect(screen.Equal(shot(way, lines), plain)).To(BeTrue(), "way %d, lines %d", way, lines)
					}
				}
			}
		},
		Entry("a capture of 720 lines", 1280, 720, "420mpeg2", image.Rect(160, 0, 1120, 720), 256, 240),
		Entry("one row more than a band", 320, 170, "420jpeg", image.Rectangle{}, 64, 17),
		Entry("one row less than a band", 320, 170, "422", image.Rectangle{}, 64, 15),
		Entry("half a band and one row", 320, 170, "444", image.Rectangle{}, 64, 9),
		Entry("a raster of one row", 33, 9, "mono", image.Rectangle{}, 7, 1),
		Entry("a raster of one column", 33, 9, "420mpeg2", image.Rectangle{}, 1, 8),
		Entry("odd edges", 131, 97, "420mpeg2", image.Rect(3, 5, 130, 96), 37, 23),
		Entry("smaller than the raster", 50, 33, "411", image.Rect(3, 2, 49, 31), 64, 60),
		Entry("the raster's own size", 64, 60, "444", image.Rectangle{}, 64, 60),
		Entry("many rows for one", 64, 480, "420jpeg", image.Rectangle{}, 8, 12),
		Entry("many columns for one", 640, 48, "422", image.Rectangle{}, 9, 12),
	)
})
