package vision_test

import (
	"image"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/vision"
	"latchproof/vision/screen"
)

var _ = Describe("a normalizer", func() {
	// greyImage makes a captured picture with B = G = R.
	greyImage := func(w, h int, at func(x, y int) int) *vision.Image {
		bgr := make([]byte, 3*w*h)
		for i := range w * h {
			v := byte(at(i%w, i/w))
			bgr[3*i], bgr[3*i+1], bgr[3*i+2] = v, v, v
		}
		img := imageOf(w, h, bgr)
		DeferCleanup(img.Close)
		return img
	}
	normalise := func(img *vision.Image, active image.Rectangle, w, h int) *screen.Screen {
		n := &vision.Normalizer{Active: active, W: w, H: h}
		defer n.Close()
		dst := screen.New(1, 1)
		ExpectWithOffset(1, n.Screen(img, dst)).To(Succeed())
		ExpectWithOffset(1, []int{dst.W, dst.H, len(dst.Y)}).To(Equal([]int{w, h, w * h}))
		return dst
	}
	// square is the 6x6 picture (17r + 29c + 3rc) mod 100.
	square := func(x, y int) int { return (17*y + 29*x + 3*x*y) % 100 }
	row := func(x, _ int) int { return 60 * x }

	// The area-weighted means as exact fractions; scikit-image 0.19.3
	// downscale_local_mean (whole factors) and OpenCV 4.6.0 INTER_AREA in
	// floating point agree. Here they are rounded to 8 bits.
	DescribeTable("averages areas exactly",
		func(at func(x, y int) int, w, h, toW, toH int, want []float64) {
			got := normalise(greyImage(w, h, at), image.Rectangle{}, toW, toH)
			Expect(want).To(HaveLen(toW * toH))
			for i, v := range want {
				Expect(float64(got.Y[i])).To(BeNumerically("~", v, 0.5+1e-5), "pixel %d", i)
			}
		},
		Entry("4x4 to 2x2", func(x, y int) int {
			return []int{1, 3, 5, 7, 2, 4, 6, 8, 10, 20, 30, 40, 50, 60, 70, 80}[4*y+x]
		}, 4, 4, 2, 2, []float64{2.5, 6.5, 35, 55}),
		Entry("a row of 5 to 2", row, 5, 1, 2, 1, []float64{48, 192}),
		Entry("a row of 5 to 3", row, 5, 1, 3, 1, []float64{24, 120, 216}),
		Entry("a row of 5 to 4", row, 5, 1, 4, 1, []float64{12, 84, 156, 228}),
		Entry("6x6 to 3x3", square, 6, 6, 3, 3, []float64{23.75, 59.75, 45.75, 60.75, 33.75, 31.75, 47.75, 57.75, 42.75}),
		Entry("6x6 to 2x2", square, 6, 6, 2, 2, []float64{341. / 9, 45, 481. / 9, 388. / 9}),
		Entry("6x6 to 4x4", square, 6, 6, 4, 4, []float64{
			47. / 3, 167. / 3, 451. / 9, 137. / 3, 119. / 3, 365. / 9, 125. / 3, 383. / 9,
			527. / 9, 395. / 9, 160. / 3, 116. / 3, 181. / 3, 51, 404. / 9, 320. / 9}),
		Entry("6x6 to 3 columns and 5 rows", square, 6, 6, 3, 5, []float64{
			211. / 12, 273. / 4, 427. / 12, 235. / 6, 77. / 2, 109. / 2, 243. / 4, 135. / 4, 127. / 4,
			49, 187. / 3, 127. / 3, 647. / 12, 197. / 4, 145. / 4}),
	)

	It("averages by area on one axis and repeats on the other when only one shrinks", func() {
		// 6x1 to 3x4: pairs average, the one row is the same everywhere.
		got := normalise(greyImage(6, 1, func(x, _ int) int { return 40 * x }), image.Rectangle{}, 3, 4)
		for y := range 4 {
			Expect(got.Y[3*y : 3*y+3]).To(Equal([]byte{20, 100, 180}))
		}
	})

	It("crops before it resamples, so the border never bleeds in", func() {
		active := image.Rect(37, 11, 37+77, 11+53)
		img := greyImage(160, 90, func(x, y int) int {
			if (image.Point{X: x, Y: y}).In(active) {
				return 100
			}
			return 255
		})
		got := normalise(img, active, 32, 30)
		Expect(got.Luma()).To(Equal(screen.Luma{Min: 100, Max: 100, Mean: 100}))
	})

	It("gives back what was enlarged by a whole factor", func() {
		s := lights(64, 60, 5)
		for i := range s.Cb { // greys convert without rounding
			s.Cb[i], s.Cr[i] = 128, 128
		}
		active := image.Rect(13, 7, 13+64*5, 7+60*3)
		img := imageOf(400, 200, project(s, 400, 200, active))
		defer img.Close()
		Expect(screen.Equal(normalise(img, active, 64, 60), s)).To(BeTrue())
	})

	It("takes a picture of the raster's own size pixel by pixel", func() {
		bgr := []byte{0, 0, 255, 0, 255, 0, 255, 0, 0, 200, 150, 100}
		img := imageOf(2, 2, bgr)
		defer img.Close()
		got := normalise(img, image.Rectangle{}, 2, 2)
		// Luma of pure red, green, blue 255 and of (100, 150, 200) in BT.601:
		// 76.245, 149.685, 29.07, 140.75.
		Expect(got.Y).To(Equal([]byte{76, 150, 29, 141}))
	})

	It("can change its size between pictures", func() {
		n := &vision.Normalizer{W: 8, H: 6}
		defer n.Close()
		dst := screen.New(8, 6)
		Expect(n.Screen(greyImage(32, 24, func(x, y int) int { return 50 }), dst)).To(Succeed())
		Expect(dst.Luma().Mean).To(Equal(50.0))
		n.W, n.H = 4, 12
		Expect(n.Screen(greyImage(64, 8, func(x, y int) int { return 70 }), dst)).To(Succeed())
		Expect([]int{dst.W, dst.H, len(dst.Y), len(dst.Cb)}).To(Equal([]int{4, 12, 48, 48}))
		Expect(dst.Luma().Mean).To(Equal(70.0))
		Expect(n.Close()).To(Succeed())
		Expect(n.Screen(greyImage(64, 8, func(x, y int) int { return 71 }), dst)).To(Succeed())
		Expect(dst.Luma().Mean).To(Equal(71.0))
	})

	It("refuses nothing, no raster, and a rectangle over the edge", func() {
		dst := screen.New(4, 4)
		none := vision.NewImage()
		defer none.Close()
		Expect((&vision.Normalizer{W: 4, H: 4}).Screen(none, dst)).To(MatchError(vision.ErrNoPicture))
		img := greyImage(8, 8, square)
		Expect((&vision.Normalizer{}).Screen(img, dst)).To(MatchError(vision.ErrSize))
		for _, r := range []image.Rectangle{image.Rect(0, 0, 9, 8), image.Rect(-1, 0, 4, 4), image.Rect(20, 20, 30, 30)} {
			Expect((&vision.Normalizer{Active: r, W: 4, H: 4}).Screen(img, dst)).To(MatchError(vision.ErrOutside))
		}
	})
})

var _ = Describe("an image", func() {
	It("keeps the bytes it was given and refuses a wrong number", func() {
		img := vision.NewImage()
		defer img.Close()
		Expect(img.Empty()).To(BeTrue())
		Expect(img.Bytes()).To(BeNil())
		Expect(img.SetBGR(2, 1, []byte{1, 2, 3, 4, 5, 6})).To(Succeed())
		Expect(img.Size()).To(Equal(image.Pt(2, 1)))
		Expect(img.Bytes()).To(Equal([]byte{1, 2, 3, 4, 5, 6}))
		Expect(img.SetBGR(1, 2, []byte{6, 5, 4, 3, 2, 1})).To(Succeed())
		Expect(img.Size()).To(Equal(image.Pt(1, 2)))
		Expect(img.Bytes()).To(Equal([]byte{6, 5, 4, 3, 2, 1}))
		Expect(img.SetBGR(2, 2, make([]byte, 11))).To(MatchError(vision.ErrSize))
		Expect(img.SetBGR(0, 0, nil)).To(MatchError(vision.ErrSize))
	})

	It("is encoded as PNG without loss and as JPEG with little", func() {
		s := lights(32, 24, 1)
		img := imageOf(32, 24, s.BGR(nil))
		defer img.Close()
		back := decodeStd(img.PNG())
		Expect(back).To(Equal(s.ToImage().Pix))
		jpeg := decodeStd(img.JPEG(95))
		Expect(jpeg).To(HaveLen(len(back)))
		none := vision.NewImage()
		defer none.Close()
		_, err := none.PNG()
		Expect(err).To(MatchError(vision.ErrNoPicture))
	})
})
