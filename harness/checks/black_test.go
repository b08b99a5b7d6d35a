package checks_test

import (
	"image"
	"math/rand/v2"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/checks"
	"latchproof/vision/screen"
)

var _ = Describe("black", func() {
	look := func(c checks.Check, s *screen.Screen) checks.Sight {
		sight, err := c.Look(s)
		ExpectWithOffset(1, err).NotTo(HaveOccurred())
		return sight
	}
	filled := func(y, cb, cr byte) *screen.Screen {
		s := screen.New(256, 240)
		for i := range s.Y {
			s.Y[i], s.Cb[i], s.Cr[i] = y, cb, cr
		}
		return s
	}
	// letter lights half the pixels of an 8x8 tile, in stripes of middle grey.
	letter := func(s *screen.Screen, x, y int) *screen.Screen {
		for dy := range 8 {
			for dx := 0; dx < 8; dx += 2 {
				s.Y[(y+dy)*s.W+x+dx] = 120
			}
		}
		return s
	}

	It("holds on black and on nothing lighter than its level", func() {
		c := newFolder().good("black: true")
		Expect(look(c, screen.New(256, 240))).To(Equal(checks.Sight{
			Holds: true, Threshold: 32, Size: image.Pt(8, 8),
			Why: "lightest block is at (0, 0) with luma 0.000, not above 32.000",
		}))
		Expect(look(c, filled(32, 128, 128)).Holds).To(BeTrue())
		sight := look(c, filled(33, 128, 128))
		Expect(sight.Holds).To(BeFalse())
		Expect(sight.Found).To(BeTrue())
		Expect(sight.Why).To(Equal("lightest block is at (0, 0) with luma 33.000, above 32.000"))
	})

	It("takes a level", func() {
		c := newFolder().good("black: {level: 10}")
		Expect(look(c, filled(10, 128, 128)).Holds).To(BeTrue())
		Expect(look(c, filled(11, 128, 128)).Holds).To(BeFalse())
		Expect(c.Describe()).To(Equal("black: no 8x8 block above level 10"))
		Expect(c.Kind()).To(Equal("black"))
		Expect(c.Templates()).To(BeEmpty())
		Expect(look(newFolder().good("black: {}"), filled(32, 128, 128)).Holds).To(BeTrue())
	})

	It("is not blind to colour", func() {
		c := newFolder().good("black: true")
		// Full blue in BT.601 full range: ITU-T T.871 gives Y = 29, Cb = 255, Cr = 107.
		sight := look(c, filled(29, 255, 107))
		Expect(sight.Holds).To(BeFalse())
		Expect(sight.Score).To(Equal(127.0))
		Expect(sight.Why).To(Equal("lightest block is at (0, 0) with Cb from grey 127.000, above 32.000"))
		Expect(look(c, filled(10, 128, 95)).Holds).To(BeFalse())
		Expect(look(c, filled(10, 128, 96)).Holds).To(BeTrue())
	})

	It("survives sensor noise of 20 levels, on black level 16 too", func() {
		c := checks.NewBlack(checks.DefaultLevel)
		r := rand.New(rand.NewPCG(5, 5))
		for range 50 {
			Expect(look(c, noisy(filled(0, 128, 128), 20, r)).Holds).To(BeTrue())
			Expect(look(c, noisy(filled(16, 128, 128), 20, r)).Holds).To(BeTrue())
		}
	})

	It("sees one letter wherever it stands", func() {
		c := checks.NewBlack(checks.DefaultLevel)
		for y := 0; y <= 40; y++ {
			for x := 0; x <= 56; x++ {
				sight := look(c, letter(screen.New(64, 48), x, y))
				Expect(sight.Holds).To(BeFalse(), "%d, %d: %s", x, y, sight.Why)
				box := image.Rectangle{Min: sight.At, Max: sight.At.Add(sight.Size)}
				Expect(box.Overlaps(image.Rect(x, y, x+8, y+8))).To(BeTrue())
			}
		}
	})

	It("covers rasters that are no multiple of its blocks, to the last pixel", func() {
		for _, size := range []image.Point{{8, 8}, {9, 11}, {13, 8}, {30, 21}, {5, 40}, {1, 1}} {
			for _, at := range []image.Point{{0, 0}, {size.X - 1, size.Y - 1}, {size.X - 1, 0}, {0, size.Y - 1}, {size.X / 2, size.Y / 2}} {
				s := screen.New(size.X, size.Y)
				s.Y[at.Y*size.X+at.X] = 255
				sight := look(checks.NewBlack(1), s)
				Expect(sight.Holds).To(BeFalse(), "%v in %v", at, size)
				Expect(sight.Score).To(Equal(255 / float64(min(8, size.X)*min(8, size.Y))))
			}
		}
	})

	It("tells a wrong raster from a verdict", func() {
		_, err := newFolder().good("black: true").Look(screen.New(256, 239))
		Expect(err).To(MatchError(checks.ErrRaster))
	})

	DescribeTable("refuses other values", func(value, want string) {
		_, bad := newFolder().load("black: " + value)
		Expect(bad).To(Equal([]string{want}))
	},
		Entry(nil, "false", "a.spec.yaml:6:29: checkpoints[0].black: want true; leave the key out otherwise"),
		Entry(nil, "32", "a.spec.yaml:6:29: checkpoints[0].black: want true or false, have 32"),
		Entry(nil, "{level: 0}", "a.spec.yaml:6:37: checkpoints[0].black.level: 0 is below 1"),
		Entry(nil, "{level: 201}", "a.spec.yaml:6:37: checkpoints[0].black.level: 201 is above 200"),
		Entry(nil, "{levle: 9}", "a.spec.yaml:6:30: checkpoints[0].black.levle: unknown key; did you mean level?"),
	)
})
