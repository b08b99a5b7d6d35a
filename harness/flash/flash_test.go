package flash_test

import (
	"image"
	"image/color"
	"math/rand/v2"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/flash"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

var whole = image.Rect(0, 0, 1024, 768)

// WCAG 2.2, success criterion 2.3.1 and the definition "general flash and red
// flash thresholds": more than three flashes in any one-second period; changes of
// 10 % or more of the maximum relative luminance; the darker below 0.80. Boundary
// greys by the definition of relative luminance: 89 is 0.099898728, 90 is
// 0.102241733, 231 is 0.799102738, 232 is 0.806952258.
var _ = Describe("a general flash", func() {
	notUnderRace()

	DescribeTable("is told above three in a second",
		func(hz float64, told bool) {
			r := blinking(64, 60, whole, black, white, hz).both()
			if !told {
				Expect(r.Stretches).To(BeEmpty())
				return
			}
			Expect(r.Stretches).To(HaveLen(1))
			s := r.Stretches[0]
			Expect(s.Kind).To(Equal(flash.General))
			Expect(s.Area).To(BeNumerically("~", 1, 1e-9))
			Expect(s.Place).To(Equal(image.Rect(0, 0, 64, 60)))
			Expect(s.From).To(BeNumerically("<", 15))
			Expect(s.To).To(BeNumerically(">", 280))
			// In a half-open second there are at most so many.
			Expect(float64(s.Flashes)).To(And(BeNumerically(">", hz-1), BeNumerically("<", hz+1)))
		},
		Entry("2.9", 2.9, false), Entry("3", 3.0, false), Entry("3.1", 3.1, true),
		Entry("5", 5.0, true), Entry("12", 12.0, true), Entry("30", 30.0, true),
	)

	DescribeTable("is a change of 10 % or more, the darker below 80 %",
		func(a, b uint8, told bool) {
			r := blinking(64, 60, whole, grey(a), grey(b), 6).both()
			Expect(len(r.Stretches)).To(Equal(map[bool]int{true: 1}[told]))
		},
		Entry("9.99 % of black", uint8(0), uint8(89), false),
		Entry("10.2 % of black", uint8(0), uint8(90), true),
		Entry("the darker at 79.9 %", uint8(231), uint8(255), true),
		Entry("the darker at 80.7 %", uint8(232), uint8(255), false),
	)

	// Each frame is 4x4 cells of black with so many of 16 pixels white: their
	// linear light is the share, 1/16 each. With grey 188 (0.502886458) in one
	// pixel and black in the others a cell has 0.031430.
	It("is told of the linear light of a cell, and 0.8 itself does not count as below", func() {
		dithered := func(a, b int, light uint8) film {
			return film{w: 64, h: 60, frames: 120, hz: 60, draw: func(f int, s *screen.Screen) {
				n := a
				if f/5%2 == 1 {
					n = b
				}
				fill(s, whole, black)
				for i := range n {
					for y := i / 4; y < 60; y += 4 {
						for x := i % 4; x < 64; x += 4 {
							fill(s, image.Rect(x, y, x+1, y+1), grey(light))
						}
					}
				}
			}}
		}
		Expect(dithered(0, 3, 188).screens().Stretches).To(BeEmpty(), "0.0943")
		Expect(dithered(0, 4, 188).screens().Stretches).To(HaveLen(1), "0.1257")
		Expect(dithered(13, 15, 255).screens().Stretches).To(BeEmpty(), "0.8125 to 0.9375")
		Expect(dithered(12, 14, 255).screens().Stretches).To(HaveLen(1), "0.75 to 0.875")
	})

	// The sequences are counted by hand after the definition: a change runs between
	// adjacent peaks and valleys, a flash is two opposing changes.
	DescribeTable("is two opposing changes from peak to valley",
		func(luminances []float64, changes, flashes int) {
			c, n := flash.Changes(60, luminances...)
			Expect([2]int{c, n}).To(Equal([2]int{changes, flashes}))
		},
		Entry("one", []float64{0, 1, 0}, 2, 1),
		Entry("five changes", []float64{0, 1, 0, 1, 0, 1}, 5, 2),
		Entry("seven changes", []float64{0, 1, 0, 1, 0, 1, 0, 1}, 7, 3),
		Entry("eight changes", []float64{0, 1, 0, 1, 0, 1, 0, 1, 0}, 8, 4),
		Entry("a peak of exactly 0.10 in two steps", []float64{0, .05, .10, .05, 0}, 2, 1),
		Entry("a peak of 0.099", []float64{0, .05, .099, .05, 0}, 0, 0),
		Entry("0.10 that is no binary fraction", []float64{.7, .8, .7}, 2, 1),
		Entry("both states bright", []float64{.85, 1, .85, 1}, 0, 0),
		Entry("the darker at 0.80", []float64{.8, .95, .8}, 0, 0),
		Entry("the darker at 0.79", []float64{.79, .95, .79}, 2, 1),
		Entry("down at first", []float64{1, 0, 1}, 2, 1),
		Entry("ripples on the way", []float64{0, .3, .25, .6, .55, 1, .95, .5, .55, 0}, 2, 1),
	)

	It("takes changes a second apart for no pair, and those a frame nearer for one", func() {
		at := func(gap int) []float64 {
			l := make([]float64, 200)
			for i := 10; i < 10+gap; i++ {
				l[i] = 1
			}
			return l
		}
		_, n := flash.Changes(60, at(60)...)
		Expect(n).To(Equal(0))
		_, n = flash.Changes(60, at(59)...)
		Expect(n).To(Equal(1))
	})

	It("is counted by the run's own rate", func() {
		m := blinking(64, 60, whole, black, white, 3)
		m.hz = 50 // the same frames take longer: 2.5 a second
		Expect(m.both().Stretches).To(BeEmpty())
		m.hz = 60.0988 // 3.005 a second
		Expect(m.both().Stretches).To(HaveLen(1))
	})

	It("may fade: what counts is how far it goes, not how fast", func() {
		fading := func(hz float64) film {
			return film{w: 64, h: 60, frames: 300, hz: 60, draw: func(f int, s *screen.Screen) {
				phase := float64(f) * hz / 60
				phase -= float64(int(phase))
				v := 2 * phase
				if v > 1 {
					v = 2 - v
				}
				fill(s, whole, grey(uint8(255*v+.5)))
			}}
		}
		Expect(fading(4).both().Stretches).To(HaveLen(1))
		Expect(fading(2.5).both().Stretches).To(BeEmpty())
		Expect(fading(0.2).both().Stretches).To(BeEmpty(), "one fade up and down")
	})

	It("is no single cut, nor three flashes, whatever came before", func() {
		bursts := func(changes int) film {
			return film{w: 64, h: 60, frames: 400, hz: 60, draw: func(f int, s *screen.Screen) {
				n := 0
				if f >= 20 {
					n++ // one cut, long before
				}
				if f >= 200 {
					n += min((f-200)/6+1, changes)
				}
				fill(s, whole, [2]color.RGBA{black, white}[n%2])
			}}
		}
		Expect(bursts(7).both().Stretches).To(BeEmpty(), "three flashes and a half")
		r := bursts(8).both()
		Expect(r.Stretches).To(HaveLen(1))
		Expect(r.Stretches[0].Flashes).To(Equal(4))
		Expect(r.Stretches[0].From).To(Equal(console.Frame(200)))
		Expect(r.Stretches[0].To).To(Equal(console.Frame(242)))
	})

	It("gives two stretches for two bursts and their frames", func() {
		r := film{w: 64, h: 60, frames: 900, hz: 60, draw: func(f int, s *screen.Screen) {
			on := f >= 100 && f < 160 || f >= 600 && f < 660
			fill(s, whole, grey(40))
			if on && f%100/4%2 == 0 {
				fill(s, whole, white)
			}
		}}.both()
		Expect(r.Frames).To(BeEquivalentTo(900))
		Expect(r.Unseen).To(BeZero())
		Expect(r.Stretches).To(HaveLen(2))
		for i, from := range []console.Frame{100, 600} {
			s := r.Stretches[i]
			Expect([]console.Frame{s.From, s.To}).To(Equal([]console.Frame{from, from + 60}))
			Expect(s.Flashes).To(Equal(8))
			Expect(s.Unseen).To(BeZero())
		}
	})

	It("is bridged over frames without a picture, which are counted", func() {
		m := blinking(64, 60, whole, black, white, 5)
		all := m.both()
		m.unseen = func(f int) bool { return f%6 == 0 } // the first after each change
		r := m.both()
		Expect(r.Unseen).To(BeEquivalentTo(50))
		Expect(r.Gap).To(BeEquivalentTo(1))
		Expect(r.Stretches).To(HaveLen(1))
		Expect(r.Stretches[0].Flashes).To(Equal(all.Stretches[0].Flashes))
		s := r.Stretches[0]
		Expect(s.Unseen).To(Equal(int64(s.To)/6-int64(s.From)/6), "one in six from %d to %d", s.From, s.To)

		m.unseen = func(f int) bool { return f >= 60 && f < 260 }
		r = m.both()
		Expect([]int64{r.Unseen, r.Gap}).To(Equal([]int64{200, 200}))
		Expect(r.Stretches).To(HaveLen(1), "after the gap there are three at most")
		Expect(r.Stretches[0].To).To(BeNumerically("<", 60))
	})

	It("is not made by things that move, nor by noise", func() {
		moving := film{w: 256, h: 240, frames: 240, hz: 60, draw: func(f int, s *screen.Screen) {
			fill(s, whole, grey(60))
			for i := range 12 {
				x, y := (f*(1+i%3)+i*21)%256, 20*i
				fill(s, image.Rect(x, y, x+16, y+16), white)
			}
		}}
		Expect(moving.both().Stretches).To(BeEmpty())
		r := rand.New(rand.NewPCG(1, 2))
		noisy := film{w: 256, h: 240, frames: 90, hz: 60, draw: func(_ int, s *screen.Screen) {
			for i := range s.Y {
				s.Y[i] = byte(min(max(90+r.NormFloat64()*12, 0), 255))
				s.Cb[i], s.Cr[i] = byte(128+r.NormFloat64()*12), byte(128+r.NormFloat64()*12)
			}
		}}
		Expect(noisy.traced().Stretches).To(BeEmpty())
		noisy.frames = 40
		Expect(noisy.screens().Stretches).To(BeEmpty())
	})

	// At random every 8 pixels of a row are bright or dark, no two rows in line, so at 2 pixels a frame each place
	// has some 3.75 pairs a second, one place after the other; a sixteenth changes on
	// each frame in each direction. Of stripes of 16 pixels at 8 a frame it is a
	// quarter, which with the other direction is more than a quarter of any field.
	It("is made by what runs past when enough of it changes together, and else not", func() {
		r := rand.New(rand.NewPCG(5, 6))
		var tiles [128 * 30]color.RGBA
		for i := range tiles {
			tiles[i] = [2]color.RGBA{grey(30), grey(220)}[r.IntN(2)]
		}
		Expect(film{w: 256, h: 240, frames: 300, hz: 60, draw: func(f int, s *screen.Screen) {
			for i, c := range tiles {
				x, y := i%128*8-f*2+i/128*3%8, i/128*8
				fill(s, image.Rect(x, y, x+8, y+8), c)
			}
		}}.both().Stretches).To(BeEmpty())
		Expect(film{w: 256, h: 240, frames: 150, hz: 60, draw: func(f int, s *screen.Screen) {
			fill(s, whole, black)
			for x := f*8%32 - 32; x < 256; x += 32 {
				fill(s, image.Rect(x, 0, x+16, 240), white)
			}
		}}.both().Stretches).To(HaveLen(1))
	})

	It("may come over a picture in turn, within a tenth of a second", func() {
		// Bands of a ninth of the height, each some frames after the one above.
		sweeping := func(late int) []flash.Stretch {
			return film{w: 64, h: 72, frames: 200, hz: 60, draw: func(f int, s *screen.Screen) {
				for i := range 9 {
					c := black
					if n := f - i*late; n > 0 && n/7%2 == 1 {
						c = white
					}
					fill(s, image.Rect(0, 8*i, 64, 8*i+8), c)
				}
			}}.both().Stretches
		}
		Expect(sweeping(0)).To(HaveLen(1))
		Expect(sweeping(1)).To(HaveLen(1))
		Expect(sweeping(2)).To(HaveLen(1))
	})
})

var _ = Describe("a watcher", func() {
	It("refuses what makes no sense", func() {
		for _, bad := range []struct {
			w, h int
			hz   float64
		}{{0, 240, 60}, {256, 1025, 60}, {256, 240, 0}, {256, 240, -1}, {256, 240, 1001}} {
			_, err := flash.New(bad.w, bad.h, bad.hz)
			Expect(err).To(HaveOccurred())
		}
		w, err := flash.New(16, 16, 60)
		Expect(err).NotTo(HaveOccurred())
		Expect(w.Screen(0, screen.New(16, 8))).To(MatchError("flash: screen of 16x8, want 16x16"))
		Expect(w.Features(0, nil)).To(MatchError("flash: 0 features, want 24"))
		Expect(w.Screen(5, screen.New(16, 16))).To(Succeed())
		Expect(w.Screen(5, screen.New(16, 16))).To(MatchError(flash.ErrOrder))
		Expect(w.Finish(9)).To(Equal(flash.Result{Frames: 10, Unseen: 9, Gap: 5}))
	})

	It("takes a row of frames without a picture of any length", func() {
		w, _ := flash.New(16, 16, 60)
		Expect(w.Screen(1, screen.New(16, 16))).To(Succeed())
		Expect(w.Screen(1<<50, screen.New(16, 16))).To(Succeed())
		Expect(w.Finish(1 << 50)).To(Equal(flash.Result{Frames: 1<<50 + 1, Unseen: 1<<50 - 1, Gap: 1<<50 - 2}))
	})
})
