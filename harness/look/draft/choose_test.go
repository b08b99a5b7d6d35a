package draft_test

import (
	"image"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"gonum.org/v1/gonum/mat"

	"latchproof/harness/lockstep"
	"latchproof/harness/look/draft"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

// textured is a screen of squares of 4 pixels, black or light by chance.
func textured(w, h int, seed uint64) *screen.Screen {
	rng := rand.New(rand.NewPCG(seed, 1))
	s := screen.New(w, h)
	for y := 0; y < h; y += 4 {
		for x := 0; x < w; x += 4 {
			v := byte(40 + 160*rng.IntN(2))
			for dy := range min(4, h-y) {
				for dx := range min(4, w-x) {
					s.Y[(y+dy)*w+x+dx] = v
				}
			}
		}
	}
	return s
}

func noisy(s *screen.Screen, sigma float64, rng *rand.Rand) *screen.Screen {
	c := s.Clone()
	for i := range c.Y {
		c.Y[i] = byte(min(max(math.Round(float64(c.Y[i])+sigma*rng.NormFloat64()), 0), 255))
	}
	return c
}

// paste copies a texture into a screen.
func paste(s, t *screen.Screen, at image.Point) {
	for y := range t.H {
		copy(s.Y[(at.Y+y)*s.W+at.X:][:t.W], t.Y[y*t.W:])
	}
}

func grey(w, h int, v byte) *screen.Screen {
	s := screen.New(w, h)
	for i := range s.Y {
		s.Y[i] = v
	}
	return s
}

var _ = Describe("candidates", func() {
	It("are measured by contrast and by the smaller eigenvalue of the structure tensor", func() {
		s := textured(64, 48, 5)
		for _, r := range []image.Rectangle{image.Rect(8, 8, 24, 24), image.Rect(0, 0, 32, 16), image.Rect(48, 32, 64, 48)} {
			contrast, corner := draft.Measured(s, r)
			var sum, squares, n float64
			for y := r.Min.Y; y < r.Max.Y; y++ {
				for x := r.Min.X; x < r.Max.X; x++ {
					v := float64(s.Y[y*s.W+x])
					n, sum, squares = n+1, sum+v, squares+v*v
				}
			}
			Expect(contrast).To(BeNumerically("~", math.Sqrt(squares/n-sum*sum/n/n), 1e-9))
			// The tensor summed plainly, and its eigenvalues by gonum.
			var xx, xy, yy float64
			for y := r.Min.Y + 1; y < r.Max.Y-1; y++ {
				for x := r.Min.X + 1; x < r.Max.X-1; x++ {
					gx := (float64(s.Y[y*s.W+x+1]) - float64(s.Y[y*s.W+x-1])) / 2
					gy := (float64(s.Y[(y+1)*s.W+x]) - float64(s.Y[(y-1)*s.W+x])) / 2
					xx, xy, yy = xx+gx*gx, xy+gx*gy, yy+gy*gy
				}
			}
			var e mat.EigenSym
			Expect(e.Factorize(mat.NewSymDense(2, []float64{xx, xy, xy, yy}), false)).To(BeTrue())
			Expect(corner).To(BeNumerically("~", e.Values(nil)[0], 1e-6*xx))
		}
	})

	It("are no lines and no plain parts", func() {
		s := grey(128, 96, 90)
		for y := range 96 { // a line down the screen, and nothing else
			for x := 60; x < 64; x++ {
				s.Y[y*128+x] = 220
			}
		}
		_, corner := draft.Measured(s, image.Rect(56, 40, 72, 56))
		Expect(corner).To(BeZero())
		Expect(draft.Candidates(grey(128, 96, 90))).To(BeEmpty())
	})

	It("do not overlap by half", func() {
		all := draft.Candidates(textured(256, 240, 6))
		Expect(len(all)).To(BeNumerically(">", 10))
		for i, a := range all {
			for _, b := range all[:i] {
				both := a.Intersect(b)
				Expect(2 * both.Dx() * both.Dy()).To(BeNumerically("<", min(a.Dx()*a.Dy(), b.Dx()*b.Dy())))
			}
		}
	})
})

var _ = Describe("choosing", func() {
	things := textured(24, 24, 11)
	common := textured(24, 24, 12)

	// Three moments: common stands on all of them, the thing on frame 10 alone.
	screens := func() map[console.Frame]*screen.Screen {
		m := map[console.Frame]*screen.Screen{}
		for _, f := range []console.Frame{8, 9, 10, 11, 12, 30, 50} {
			s := grey(160, 120, 90)
			paste(s, common, image.Pt(8, 8))
			if f >= 9 && f <= 12 {
				paste(s, things, image.Pt(96, 64))
			}
			m[f] = s
		}
		return m
	}

	It("takes what the other moments do not show", func() {
		in, second, other, stands, err := draft.Chosen(screens(), 10, 30, 50)
		Expect(err).NotTo(HaveOccurred())
		Expect(in.Overlaps(image.Rect(96, 64, 120, 88))).To(BeTrue())
		Expect(in.Overlaps(image.Rect(8, 8, 32, 32))).To(BeFalse())
		Expect(second).To(BeNumerically("<", draft.MaxSecond))
		Expect(other).To(BeNumerically("<", 0.8))
		Expect(stands).To(Equal(3)) // frames 9, 11 and 12, not 8
	})

	It("takes nothing that stands on the screen twice", func() {
		s := grey(160, 120, 90)
		paste(s, things, image.Pt(24, 24)) // far enough from the edges for its surroundings
		paste(s, things, image.Pt(96, 64))
		in, _, _, _, err := draft.Chosen(map[console.Frame]*screen.Screen{10: s}, 10)
		Expect(err).NotTo(HaveOccurred())
		Expect(in.Empty()).To(BeTrue())
	})

	It("reckons with the other field of a woven capture, half a line away", func() {
		s := screen.New(2, 3)
		copy(s.Y, []byte{0, 10, 100, 20, 50, 31})
		halves := draft.HalfLines(s)
		Expect(halves[0].Y).To(Equal([]byte{50, 15, 75, 26, 50, 31}))
		Expect(halves[1].Y).To(Equal([]byte{0, 10, 50, 15, 75, 26}))
		woven, plain, err := draft.Weakest(textured(160, 120, 40))
		Expect(err).NotTo(HaveOccurred())
		Expect(plain).To(Equal(1.0))
		Expect(woven).To(And(BeNumerically(">", 0.7), BeNumerically("<", 0.99)))
	})

	It("writes a threshold only where the default leaves no room", func() {
		score, written := draft.Threshold(0.4, 0.5, 0.99)
		Expect([]any{score, written}).To(Equal([]any{0.9, false}))
		score, written = draft.Threshold(0.4, 0.6, 0.9)
		Expect(score).To(BeNumerically("~", 0.75, 1e-9)) // half-way between 0.6 and 0.9
		Expect(written).To(BeTrue())
		score, written = draft.Threshold(0.4, 0.95, 0.9) // it shows on the other screen too
		Expect(score).To(BeNumerically("~", 0.65, 1e-9))
		Expect(written).To(BeTrue())
	})
})

var _ = Describe("noise", func() {
	It("is measured within a tenth, also when half of the picture moves", func() {
		for _, sigma := range []float64{1.5, 6, 20} {
			rng := rand.New(rand.NewPCG(uint64(sigma*10), 9))
			m := map[console.Frame]*screen.Screen{}
			for f := range console.Frame(4) {
				s := grey(160, 120, 0)
				paste(s, textured(160, 60, 20), image.Pt(0, 0))
				paste(s, textured(160, 60, 30+uint64(f)), image.Pt(0, 60))
				for i := range s.Y { // away from black and white, which cut noise off
					s.Y[i] = 70 + s.Y[i]/2
				}
				m[f] = noisy(s, sigma, rng)
			}
			// The lower quartile of blocks of 64 pixels lies 6 % below the middle
			// of half of them (standard error of an RMS: 1/√128).
			Expect(draft.Noise(m)).To(BeNumerically("~", sigma, 0.1*sigma), "sigma %v", sigma)
		}
		Expect(draft.Noise(nil)).To(BeZero())
	})

	It("does not take a dim scene for black", func() {
		rng := rand.New(rand.NewPCG(1, 1))
		Expect(draft.Dark(noisy(grey(160, 120, 8), 6, rng))).To(BeTrue())
		s := grey(160, 120, 0)
		paste(s, grey(12, 12, 60), image.Pt(77, 31))
		Expect(draft.Dark(s)).To(BeFalse())
		blue := grey(160, 120, 0)
		for i := range blue.Cb {
			blue.Cb[i] = 255
		}
		Expect(draft.Dark(blue)).To(BeFalse())
	})
})

var _ = Describe("changes of scene", func() {
	It("are found in a trace, without what merely moves or was not seen", func() {
		path := filepath.Join(GinkgoT().TempDir(), "trace")
		file, err := os.Create(path)
		Expect(err).NotTo(HaveOccurred())
		w, err := lockstep.NewTraceWriter(file, lockstep.Layout{W: 160, H: 120})
		Expect(err).NotTo(HaveOccurred())
		scene := func(seed uint64, f int) *screen.Screen {
			s := textured(160, 120, seed)
			paste(s, grey(16, 16, 255), image.Pt(f, 40)) // something moves all the time
			return s
		}
		for f := range 40 {
			if f == 29 {
				continue // unseen, just before the second change
			}
			seed := uint64(1 + f/10) // another scene on 10, 20 and 30
			if seed == 3 {
				seed = 2 // but not on 20
			}
			Expect(w.AddFeatures(console.Frame(f), lockstep.Seen, lockstep.Extract(scene(seed, f), nil))).To(Succeed())
		}
		Expect(w.Close()).To(Succeed())
		Expect(file.Close()).To(Succeed())
		t, err := lockstep.OpenTrace(path)
		Expect(err).NotTo(HaveOccurred())
		frames, next, err := draft.ChangesOf(t)
		Expect(err).NotTo(HaveOccurred())
		Expect(frames).To(Equal([]console.Frame{10, 30}))
		Expect(next).To(Equal([]bool{true, false}))
	})
})
