package screen_test

import (
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/vision/screen"
)

// The 8-bit limited range codes of the BT.601 colour bars: ITU-R BT.471 and
// BT.801, SMPTE EG 1; the same numbers stand in the tables of the test sources
// smptebars, pal75bars and pal100bars of FFmpeg 5.1.
var bars = []struct {
	name            string
	r, g, b         int
	full, threeQuad [3]int // 100 % and 75 % Y, Cb, Cr
	decoded75       [3]int // 75 % codes back to R'G'B' 0..255, rounded and clipped
}{
	{"white", 1, 1, 1, [3]int{235, 128, 128}, [3]int{180, 128, 128}, [3]int{191, 191, 191}},
	{"yellow", 1, 1, 0, [3]int{210, 16, 146}, [3]int{162, 44, 142}, [3]int{192, 192, 1}},
	{"cyan", 0, 1, 1, [3]int{170, 166, 16}, [3]int{131, 156, 44}, [3]int{0, 191, 190}},
	{"green", 0, 1, 0, [3]int{145, 54, 34}, [3]int{112, 72, 58}, [3]int{0, 191, 0}},
	{"magenta", 1, 0, 1, [3]int{106, 202, 222}, [3]int{84, 184, 198}, [3]int{191, 0, 192}},
	{"red", 1, 0, 0, [3]int{81, 90, 240}, [3]int{65, 100, 212}, [3]int{191, 0, 1}},
	{"blue", 0, 0, 1, [3]int{41, 240, 110}, [3]int{35, 212, 114}, [3]int{0, 1, 192}},
	{"black", 0, 0, 0, [3]int{16, 128, 128}, [3]int{16, 128, 128}, [3]int{0, 0, 0}},
}

// limited maps a full range code to the limited range of BT.601: luma 219
// steps from 16, colour difference 224 steps about 128.
func limited(y, cb, cr byte) [3]float64 {
	return [3]float64{
		16 + float64(y)*219/255,
		128 + (float64(cb)-128)*224/255,
		128 + (float64(cr)-128)*224/255,
	}
}

// fullRange is the reverse map, rounded to 8 bits.
func fullRange(c [3]int) (y, cb, cr byte) {
	round := func(v float64) byte { return byte(math.Round(min(max(v, 0), 255))) }
	return round(float64(c[0]-16) * 255 / 219),
		round(128 + float64(c[1]-128)*255/224),
		round(128 + float64(c[2]-128)*255/224)
}

var _ = Describe("the colour conversion", func() {
	It("agrees with the published 100 % bars", func() {
		for _, bar := range bars {
			got := limited(screen.YCbCr(byte(255*bar.r), byte(255*bar.g), byte(255*bar.b)))
			for i, want := range bar.full {
				// Half a full range step, seen in the limited range, and half a
				// step of the published rounding. Full range pure blue and red
				// clip at 255, which is another half step.
				Expect(got[i]).To(BeNumerically("~", float64(want), 0.5+0.5), "%s, component %d", bar.name, i)
			}
		}
	})

	It("agrees with the published 75 % bars, both ways", func() {
		for _, bar := range bars {
			// 75 % is 191.25, which 8 bits miss by a quarter of a step.
			got := limited(screen.YCbCr(byte(191*bar.r), byte(191*bar.g), byte(191*bar.b)))
			for i, want := range bar.threeQuad {
				Expect(got[i]).To(BeNumerically("~", float64(want), 0.25+0.5+0.5), "%s, component %d", bar.name, i)
			}
			r, g, b := screen.RGB(fullRange(bar.threeQuad))
			for i, v := range []byte{r, g, b} {
				// Going through full range rounds once more: half a step of luma
				// and, for blue, 1.772 half steps of Cb.
				Expect(float64(v)).To(BeNumerically("~", float64(bar.decoded75[i]), 0.5+0.886+0.5), "%s, channel %d", bar.name, i)
			}
		}
	})

	It("weighs luma as BT.601 does", func() {
		for _, c := range []struct {
			r, g, b byte
			want    float64
		}{
			{100, 150, 200, 140.75}, {12, 34, 56, 29.93},
			{255, 0, 0, 76.245}, {0, 255, 0, 149.685}, {0, 0, 255, 29.07},
		} {
			y, _, _ := screen.YCbCr(c.r, c.g, c.b)
			Expect(float64(y)).To(Equal(math.Round(c.want)))
		}
	})

	It("is the formula of ITU-T T.871, rounded, for every colour of a grid", func() {
		for r := 0; r < 256; r += 5 {
			for g := 0; g < 256; g += 5 {
				for b := 0; b < 256; b += 5 {
					R, G, B := float64(r), float64(g), float64(b)
					Y := 0.299*R + 0.587*G + 0.114*B
					y, cb, cr := screen.YCbCr(byte(r), byte(g), byte(b))
					near := BeNumerically("<=", 0.5+0.005) // 16-bit factors
					Expect(math.Abs(float64(y) - Y)).To(near)
					Expect(math.Abs(float64(cb) - min(128+(B-Y)/1.772, 255))).To(near)
					Expect(math.Abs(float64(cr) - min(128+(R-Y)/1.402, 255))).To(near)
					r2, g2, b2 := screen.RGB(y, cb, cr)
					Expect(math.Abs(float64(r2) - R)).To(BeNumerically("<=", 2))
					Expect(math.Abs(float64(g2) - G)).To(BeNumerically("<=", 2))
					Expect(math.Abs(float64(b2) - B)).To(BeNumerically("<=", 2))
				}
			}
		}
	})

	It("keeps greys exactly", func() {
		for v := range 256 {
			y, cb, cr := screen.YCbCr(byte(v), byte(v), byte(v))
			Expect([]byte{y, cb, cr}).To(Equal([]byte{byte(v), 128, 128}))
			r, g, b := screen.RGB(y, cb, cr)
			Expect([]byte{r, g, b}).To(Equal([]byte{byte(v), byte(v), byte(v)}))
		}
	})

	It("is the same for whole pictures as for single pixels", func() {
		var bgr []byte
		for i := range 17 * 17 * 17 {
			bgr = append(bgr, byte(i%17*255/16), byte(i/17%17*255/16), byte(i/289*255/16))
		}
		s := &screen.Screen{}
		s.SetBGR(289, 17, bgr)
		for i := range 289 * 17 {
			y, cb, cr := screen.YCbCr(bgr[3*i+2], bgr[3*i+1], bgr[3*i])
			Expect([]byte{s.Y[i], s.Cb[i], s.Cr[i]}).To(Equal([]byte{y, cb, cr}))
		}
		back := s.BGR(nil)
		Expect(back).To(HaveLen(len(bgr)))
		for i := range back {
			Expect(math.Abs(float64(back[i]) - float64(bgr[i]))).To(BeNumerically("<=", 2))
		}
		Expect(func() { s.SetBGR(2, 2, bgr[:11]) }).To(Panic())
	})
})
