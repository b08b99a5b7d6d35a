package checks_test

import (
	"fmt"
	"image"
	"math/rand/v2"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/checks"
	"latchproof/vision/screen"
)

// street is a drawn picture with flat parts, edges and small things: sky, houses,
// ground, windows.
func street(seed uint64) *screen.Screen {
	r := rand.New(rand.NewPCG(seed, 9))
	s := screen.New(256, 240)
	fill := func(x, y, w, h int, v, cb, cr byte) {
		for yy := y; yy < min(y+h, 240); yy++ {
			for xx := x; xx < min(x+w, 256); xx++ {
				s.Y[yy*256+xx], s.Cb[yy*256+xx], s.Cr[yy*256+xx] = v, cb, cr
			}
		}
	}
	fill(0, 0, 256, 120, 60, 150, 120)
	for x := 0; x < 256; {
		w := 20 + r.IntN(40)
		h := 60 + r.IntN(80)
		fill(x, 200-h, w, h, byte(40+r.IntN(120)), byte(110+r.IntN(30)), byte(120+r.IntN(30)))
		for wy := 206 - h; wy < 190; wy += 16 {
			for wx := x + 4; wx+6 < x+w; wx += 12 {
				fill(wx, wy, 6, 9, byte(150+r.IntN(90)), 90, 150)
			}
		}
		x += w
	}
	fill(0, 200, 256, 40, 90, 128, 128)
	return s
}

// man draws a thing of 10x20 pixels.
func man(s *screen.Screen, x, y int) {
	for dy := range 20 {
		for dx := range 10 {
			v := byte(20)
			if dy < 6 || dx == 4 {
				v = 210
			}
			s.Y[(y+dy)*s.W+x+dx] = v
		}
	}
}

// captured is a screen with gain and offset, and noise on all planes.
func captured(s *screen.Screen, gain, offset, sigma float64, r *rand.Rand) *screen.Screen {
	c := s.Clone()
	draw := r.NormFloat64
	if sigma == 0 {
		draw = func() float64 { return 0 }
	}
	for i, v := range s.Y {
		c.Y[i] = clipped(gain*float64(v) + offset + sigma*draw())
		c.Cb[i] = clipped(float64(s.Cb[i]) + sigma/2*draw())
		c.Cr[i] = clipped(float64(s.Cr[i]) + sigma/2*draw())
	}
	return c
}

func clipped(v float64) byte { return byte(max(0, min(255, v+0.5))) }

var _ = Describe("screen", func() {
	look := func(c checks.Check, s *screen.Screen) checks.Sight {
		sight, err := c.Look(s)
		ExpectWithOffset(1, err).NotTo(HaveOccurred())
		return sight
	}

	It("measures what NumPy and scikit-image measure", func() {
		// Expected: numpy 1.24.2, scikit-image 0.19.3, scipy 1.10.1:
		//
		//	y, x = mgrid[0:240, 0:256]
		//	ref = (x*3//4 + y//3 + ((x//8)*(y//8)*37) % 90).clip(0, 200)
		//	pic = floor(0.9*ref + 12.5); pic[80:96, 40:56] = 255 - pic[80:96, 40:56]
		//	a, b = block_reduce(ref, (4, 4), mean), block_reduce(pic, (4, 4), mean)
		//	g, o = polyfit(a[outside], b[outside], 1); r = b - g*a - o
		//	sqrt(sum(r[20:24, 10:14]**2))/.75/sqrt(chi2.isf(1e-9/8640, 16))/1.3
		ref := screen.New(256, 240)
		for y := range 240 {
			for x := range 256 {
				ref.Y[y*256+x] = byte(min(200, x*3/4+y/3+((x/8)*(y/8)*37)%90))
			}
		}
		pic := ref.Clone()
		for i, v := range ref.Y {
			pic.Y[i] = byte(0.9*float64(v) + 12.5)
		}
		for y := 80; y < 96; y++ {
			for x := 40; x < 56; x++ {
				pic.Y[y*256+x] = 255 - pic.Y[y*256+x]
			}
		}
		sight := look(checks.NewScreen(ref), pic)
		Expect(sight.Holds).To(BeFalse())
		Expect(sight.Score).To(BeNumerically("~", 19.7395, 0.005*19.7395))
		Expect(sight.Noise).To(Equal(0.75))
		Expect(sight.At).To(Equal(image.Pt(40, 80)))
		Expect(sight.Size).To(Equal(image.Pt(16, 16)))
		Expect(sight.Why).To(HavePrefix("differs from the reference in [40, 80, 16, 16] (x, y, width, height): 4 blocks of 8x8 pixels, the most at (48, 88) by "))
	})

	It("holds under noise, gain and offset, and sees a thing of 10x20 pixels that should not be there", func() {
		r := rand.New(rand.NewPCG(1, 2))
		times := 15
		if testing.Short() {
			times = 2
		}
		for _, sigma := range []float64{0, 3, 10, 20} {
			for i := range times {
				ref := street(uint64(i))
				c := checks.NewScreen(ref)
				gain, offset := 0.8+0.4*r.Float64(), 20*r.Float64()-10
				sight := look(c, captured(ref, gain, offset, sigma, r))
				Expect(sight.Holds).To(BeTrue(), "noise %v: %s", sigma, sight.Why)
				other := ref.Clone()
				at := image.Pt(10+r.IntN(220), 10+r.IntN(200))
				man(other, at.X, at.Y)
				sight = look(c, captured(other, gain, offset, sigma, r))
				Expect(sight.Holds).To(BeFalse(), "noise %v, at %v: %s", sigma, at, sight.Why)
				Expect(image.Rectangle{Min: sight.At, Max: sight.At.Add(sight.Size)}.Overlaps(image.Rectangle{Min: at, Max: at.Add(image.Pt(10, 20))})).To(BeTrue())
			}
		}
	})

	It("has no false alarm in hundreds of noisy pictures", func() {
		r := rand.New(rand.NewPCG(3, 2))
		ref := street(1)
		c := checks.NewScreen(ref)
		times := 200
		if testing.Short() {
			times = 10
		}
		worst := 0.0
		for range times {
			sight := look(c, captured(ref, 1, 0, 12, r))
			Expect(sight.Holds).To(BeTrue(), sight.Why)
			worst = max(worst, sight.Score)
		}
		AddReportEntry("noise of 12 levels", fmt.Sprintf("%d pictures, the worst at %.2f of its threshold", times, worst), ReportEntryVisibilityAlways)
	})

	It("ignores regions, and no more than the blocks that touch them", func() {
		ref := street(1)
		other := ref.Clone()
		man(other, 100, 100)
		Expect(look(checks.NewScreen(ref), other).Holds).To(BeFalse())
		Expect(look(checks.NewScreen(ref, image.Rect(100, 100, 110, 120)), other).Holds).To(BeTrue())
		Expect(look(checks.NewScreen(ref, image.Rect(112, 100, 120, 120)), other).Holds).To(BeFalse())
		Expect(look(checks.NewScreen(ref, image.Rect(0, 0, 256, 96)), other).Holds).To(BeFalse())
	})

	It("sees colour that differs, and a whole picture that does", func() {
		ref := street(1)
		other := ref.Clone()
		for y := 40; y < 56; y++ {
			for x := 40; x < 56; x++ {
				other.Cr[y*256+x] += 40
			}
		}
		sight := look(checks.NewScreen(ref), other)
		Expect(sight.Holds).To(BeFalse())
		Expect(sight.At).To(Equal(image.Pt(40, 40)))
		Expect(sight.Size).To(Equal(image.Pt(16, 16)))
		for seed := uint64(2); seed < 20; seed++ {
			Expect(look(checks.NewScreen(ref), street(seed)).Holds).To(BeFalse())
		}
		Expect(look(checks.NewScreen(ref), screen.New(256, 240)).Holds).To(BeFalse())
		negative := ref.Clone()
		for i, v := range negative.Y {
			negative.Y[i] = 255 - v
		}
		Expect(look(checks.NewScreen(ref), negative).Why).To(HavePrefix("the whole picture is another one: its blocks correlate with the reference by -1.00"))
		bright := ref.Clone()
		for i := range bright.Y {
			bright.Y[i] = clipped(float64(bright.Y[i]) + 50)
		}
		Expect(look(checks.NewScreen(ref), bright).Why).To(MatchRegexp(`^middle grey is \+(49|50) levels off, which is more than a capture changes it$`))
		Expect(look(checks.NewScreen(screen.New(256, 240)), ref).Holds).To(BeFalse())
	})

	It("tells a wrong raster from a verdict", func() {
		_, err := checks.NewScreen(street(1)).Look(screen.New(256, 239))
		Expect(err).To(MatchError(checks.ErrRaster))
	})

	DescribeTable("refuses", func(value, want string) {
		f := newFolder()
		f.save("ref.png", street(1))
		f.save("small.png", screen.New(255, 240))
		_, bad := f.load("screen: " + value)
		Expect(bad).To(Equal([]string{"a.spec.yaml:6:" + want}))
	},
		Entry("a reference of another size", "{reference: small}",
			"42: checkpoints[0].screen.reference: small.png: screen is not of the console's raster: it is 255x240, want 256x240"),
		Entry("none", "{reference: none}", "42: checkpoints[0].screen.reference: none.png: no such file or directory"),
		Entry("regions outside", "{reference: ref, ignore: [[0, 0, 8, 8], [250, 0, 7, 8]]}",
			"70: checkpoints[0].screen.ignore[1]: region [250, 0, 7, 8] reaches over the raster of 256x240"),
		Entry("empty regions", "{reference: ref, ignore: [[0, 0, 0, 8]]}",
			"56: checkpoints[0].screen.ignore[0]: a region of 0 x 8 pixels is empty"),
		Entry("everything ignored", "{reference: ref, ignore: [[0, 0, 256, 240]]}",
			"42: checkpoints[0].screen.reference: ref.png: everything is ignored"),
	)
})

var _ = Describe("still", func() {
	watch := func(c checks.Series, pics ...*screen.Screen) (all []checks.Sight) {
		w := c.Begin()
		for i, s := range pics {
			sight, err := w.Look(int64(100+i), s)
			ExpectWithOffset(1, err).NotTo(HaveOccurred())
			all = append(all, sight)
		}
		return all
	}

	It("holds while nothing moves, whatever the noise", func() {
		r := rand.New(rand.NewPCG(1, 2))
		for _, sigma := range []float64{0, 5, 20} {
			s := street(3)
			moved := s.Clone()
			man(moved, 60, 150)
			c := checks.NewStill(0)
			Expect(c.Every()).To(BeTrue())
			all := watch(c, captured(s, 1, 0, sigma, r), captured(s, 1, 0, sigma, r), captured(s, 1.05, 3, sigma, r), captured(moved, 1, 0, sigma, r), captured(s, 1, 0, sigma, r))
			for i, want := range []bool{true, true, true, false, true} {
				Expect(all[i].Holds).To(Equal(want), "noise %v, picture %d: %s", sigma, i, all[i].Why)
			}
			Expect(all[3].Why).To(HavePrefix("differs from frame 100 in "))
			Expect(watch(checks.NewStill(0, image.Rect(60, 150, 70, 170)), s, moved)[1].Holds).To(BeTrue())
		}
	})

	It("finds a stretch of so many frames", func() {
		s := street(3)
		a, b := s.Clone(), s.Clone()
		man(a, 60, 150)
		man(b, 62, 150)
		c := checks.NewStill(3)
		Expect(c.Every()).To(BeFalse())
		all := watch(c, a, a, b, b, b, b)
		for i, want := range []bool{false, false, false, false, true, true} {
			Expect(all[i].Holds).To(Equal(want), "picture %d: %s", i, all[i].Why)
		}
		Expect(all[4].Value).To(Equal(3))
		Expect(all[4].Why).To(HavePrefix("still for 3 frames from frame 102 on, 3 are wanted; "))
		Expect(watch(c, a)[0].Holds).To(BeFalse(), "every run begins anew")
	})

	It("cannot tell from one picture", func() {
		sight, err := checks.NewStill(0).Look(street(1))
		Expect(err).NotTo(HaveOccurred())
		Expect(sight.Unsure).To(BeTrue())
		Expect(sight.Holds).To(BeFalse())
	})

	DescribeTable("needs a range", func(check, want string) {
		f := newFolder()
		f.put("a.spec.yaml", []byte(head+"  - {name: n, "+check+"}\n"))
		_, bad := f.reload()
		if want == "" {
			Expect(bad).To(BeEmpty())
			return
		}
		Expect(bad).To(Equal([]string{"a.spec.yaml:6:" + want}))
	},
		Entry(nil, "at: [1, 9], still: true", ""),
		Entry(nil, "at: [1, 9], unseen: 2, still: {ignore: [[0, 0, 8, 8]]}", ""),
		Entry(nil, "at: [1, 9], still: {for: 3}", ""),
		Entry(nil, "at: 1, still: true", "19: checkpoints[0].at: still needs a range; write `at: [from, to]`"),
		Entry(nil, "at: [1, 9], every: true, still: true", "34: checkpoints[0].every: not with still, which is about the whole range"),
		Entry(nil, "at: [1, 9], unseen: 2, still: {for: 3}", "35: checkpoints[0].unseen: not together with `for`: what is unseen never counts as still"),
		Entry(nil, "at: [1, 9], still: {ignore: [[250, 0, 8, 8]]}", "44: checkpoints[0].still.ignore[0]: region [250, 0, 8, 8] reaches over the raster of 256x240"),
	)
})
