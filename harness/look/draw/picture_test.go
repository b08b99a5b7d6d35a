package draw_test

import (
	"image"
	"image/color"
	"math/rand/v2"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/look/draw"
	"latchproof/vision/screen"
)

// random is a screen in which every pixel is known and unlike its neighbours.
func random(w, h int) *screen.Screen {
	rng := rand.New(rand.NewPCG(3, 4))
	s := screen.New(w, h)
	for i := range s.Y {
		s.Y[i], s.Cb[i], s.Cr[i] = byte(rng.IntN(256)), byte(64+rng.IntN(128)), byte(64+rng.IntN(128))
	}
	return s
}

func colour(s *screen.Screen, x, y int) color.RGBA {
	r, g, b := screen.RGB(s.Y[y*s.W+x], s.Cb[y*s.W+x], s.Cr[y*s.W+x])
	return color.RGBA{r, g, b, 255}
}

var _ = Describe("a picture", func() {
	s := random(60, 44)

	DescribeTable("has pixel (x, y) at origin + scale·((x, y) − crop), and nothing moves it",
		func(o draw.Options) {
			img, origin, err := draw.Picture(s, o)
			Expect(err).NotTo(HaveOccurred())
			crop := o.Crop
			if crop.Empty() {
				crop = s.Bounds()
			}
			if o.Grid == 0 && o.Mark.Empty() {
				Expect(img.Bounds()).To(Equal(image.Rectangle{Max: crop.Size().Mul(o.Scale)}))
				Expect(origin).To(Equal(image.Point{}))
			}
			for y := crop.Min.Y; y < crop.Max.Y; y++ {
				for x := crop.Min.X; x < crop.Max.X; x++ {
					for dy := range o.Scale {
						for dx := range o.Scale {
							at := origin.Add(image.Pt((x-crop.Min.X)*o.Scale+dx, (y-crop.Min.Y)*o.Scale+dy))
							line := o.Grid > 0 && (dx == 0 && x%o.Grid == 0 || dy == 0 && y%o.Grid == 0)
							same := img.RGBAAt(at.X, at.Y) == colour(s, x, y)
							if line == same {
								Fail("wrong pixel", 1)
							}
						}
					}
				}
			}
		},
		Entry("as it is", draw.Options{Scale: 1}),
		Entry("enlarged", draw.Options{Scale: 3}),
		Entry("a part of it", draw.Options{Scale: 2, Crop: image.Rect(7, 5, 20, 30)}),
		Entry("with a grid", draw.Options{Scale: 4, Grid: 8, Caption: "frame 1"}),
		Entry("with a grid on every pixel", draw.Options{Scale: 8, Grid: 1}),
		Entry("a part with a grid", draw.Options{Scale: 5, Grid: 4, Crop: image.Rect(7, 5, 60, 44)}),
	)

	It("outlines a rectangle from outside, also at the edge", func() {
		mark := image.Rect(0, 10, 8, 44)
		img, origin, err := draw.Picture(s, draw.Options{Scale: 4, Mark: mark})
		Expect(err).NotTo(HaveOccurred())
		for y := mark.Min.Y; y < mark.Max.Y; y++ {
			for x := mark.Min.X; x < mark.Max.X; x++ {
				at := origin.Add(image.Pt(4*x, 4*y))
				Expect(img.RGBAAt(at.X, at.Y)).To(Equal(colour(s, x, y)))
				Expect(img.RGBAAt(at.X+3, at.Y+3)).To(Equal(colour(s, x, y)))
			}
		}
		r := image.Rectangle{Min: origin.Add(mark.Min.Mul(4)), Max: origin.Add(mark.Max.Mul(4))}
		black := color.RGBA{0, 0, 0, 255}
		for x := r.Min.X; x < r.Max.X; x++ {
			Expect(img.RGBAAt(x, r.Min.Y-1)).To(Equal(black))
			Expect(img.RGBAAt(x, r.Max.Y)).To(Equal(black))
			Expect(img.RGBAAt(x, r.Max.Y+1)).NotTo(Equal(black))
		}
	})

	It("has lines that show on black, on white and on grey", func() {
		for _, v := range []byte{0, 127, 128, 255} {
			flat := screen.New(16, 16)
			for i := range flat.Y {
				flat.Y[i] = v
			}
			img, origin, err := draw.Picture(flat, draw.Options{Scale: 4, Grid: 4})
			Expect(err).NotTo(HaveOccurred())
			at := func(x, y int) int { return int(img.RGBAAt(origin.X+x, origin.Y+y).G) }
			// The weakest line is 60/256 of the way to black or white.
			Expect(max(at(16, 2)-at(17, 2), at(17, 2)-at(16, 2))).To(BeNumerically(">=", 127*60/256), "level %d", v)
		}
	})

	It("never lets two numbers touch", func() {
		for _, scale := range []int{2, 3, 4, 7, 12} {
			for _, grid := range []int{1, 2, 3, 8, 10, 16, 64} {
				for _, crop := range []image.Rectangle{image.Rect(0, 0, 256, 240), image.Rect(80, 160, 128, 200), image.Rect(3, 3, 5, 9)} {
					xs, size := draw.Numbered(draw.Options{Scale: scale, Grid: grid, Crop: crop})
					for i := 1; i < len(xs); i++ {
						widest := draw.TextWidth("255", size)
						Expect((xs[i]-xs[i-1])*scale).To(BeNumerically(">", widest+5*size), "scale %d grid %d crop %v", scale, grid, crop)
						Expect(xs[i] % grid).To(BeZero())
					}
				}
			}
		}
	})

	It("refuses what cannot be drawn", func() {
		for _, o := range []draw.Options{
			{}, {Scale: -1}, {Scale: draw.MaxScale + 1}, {Scale: 1, Grid: 8}, {Scale: 2, Grid: -1},
		} {
			_, _, err := draw.Picture(s, o)
			Expect(err).To(MatchError(draw.ErrOptions), "%+v", o)
		}
		_, _, err := draw.Picture(s, draw.Options{Scale: 1, Crop: image.Rect(50, 0, 61, 9)})
		Expect(err).To(MatchError(screen.ErrOutside))
		_, _, err = draw.Picture(s, draw.Options{Scale: 1, Mark: image.Rect(-1, 0, 4, 9)})
		Expect(err).To(MatchError(screen.ErrOutside))
		_, _, err = draw.Picture(screen.New(256, 240), draw.Options{Scale: 64})
		Expect(err).To(MatchError(draw.ErrTooBig))
	})
})

var _ = Describe("a sheet", func() {
	It("has every screen at its place, exactly, and empty cells for the others", func() {
		sh, err := draw.NewSheet("a title that is much too long for so narrow a sheet", image.Pt(60, 44), 7, 3, 2)
		Expect(err).NotTo(HaveOccurred())
		s := random(60, 44)
		for i := range 7 {
			if i != 4 {
				Expect(sh.Put(i, s)).To(Succeed())
			} else {
				sh.Empty(i, "unseen")
			}
			sh.Label(i, "frame 123456789012345678901234567890", "a-mark-with-a-very-long-name-indeed+1000")
		}
		img := sh.Image()
		var boxes []image.Rectangle
		for i := range 7 {
			p := sh.Place(i)
			box := image.Rectangle{Min: p, Max: p.Add(image.Pt(120, 88))}
			Expect(box.In(img.Bounds())).To(BeTrue())
			for _, o := range boxes {
				Expect(box.Overlaps(o)).To(BeFalse())
			}
			boxes = append(boxes, box)
			if i == 4 {
				colours := map[color.RGBA]int{}
				for y := box.Min.Y; y < box.Max.Y; y++ {
					for x := box.Min.X; x < box.Max.X; x++ {
						colours[img.RGBAAt(x, y)]++
					}
				}
				Expect(colours).To(HaveLen(2)) // the ground and the word
				continue
			}
			for y := range 44 {
				for x := range 60 {
					if img.RGBAAt(p.X+2*x, p.Y+2*y) != colour(s, x, y) || img.RGBAAt(p.X+2*x+1, p.Y+2*y+1) != colour(s, x, y) {
						Fail("wrong pixel", 1)
					}
				}
			}
		}
	})

	It("refuses another raster, no pictures, and what is too big", func() {
		sh, err := draw.NewSheet("", image.Pt(60, 44), 1, 0, 1)
		Expect(err).NotTo(HaveOccurred())
		Expect(sh.Put(0, random(61, 44))).To(MatchError(draw.ErrOptions))
		_, err = draw.NewSheet("", image.Pt(60, 44), 0, 0, 1)
		Expect(err).To(MatchError(draw.ErrOptions))
		_, err = draw.NewSheet("", image.Pt(4096, 4096), 1000, 30, 64)
		Expect(err).To(MatchError(draw.ErrTooBig))
	})
})
