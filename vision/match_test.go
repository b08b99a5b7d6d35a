package vision_test

import (
	"image"
	"math"
	"math/rand/v2"
	"sync"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/vision"
	"latchproof/vision/screen"
)

var _ = Describe("a search", func() {
	// best looks at every place with the integer score.
	best := func(t *vision.Template, s *screen.Screen, in, skip image.Rectangle) (image.Point, float64) {
		at, score := image.Pt(-1, -1), math.Inf(-1)
		for y := in.Min.Y; y < in.Max.Y; y++ {
			for x := in.Min.X; x < in.Max.X; x++ {
				p := image.Pt(x, y)
				if p.In(skip) {
					continue
				}
				v, err := t.ScoreAt(s, p)
				ExpectWithOffset(1, err).NotTo(HaveOccurred())
				if v > score {
					at, score = p, v
				}
			}
		}
		return at, score
	}

	It("finds the place that looking everywhere finds, and the second one", func() {
		rng := rand.New(rand.NewPCG(11, 1))
		for i := range 12 {
			s := noisy(lights(128, 96, uint64(i)), 8, rng)
			sp := sprite(uint64(i))
			var alpha []byte
			if i%2 == 1 {
				alpha = disc(16, 16)
			}
			put(s, sp, alpha, image.Pt(rng.IntN(113), rng.IntN(81)))
			t := template(sp, alpha)
			for _, in := range []image.Rectangle{{}, image.Rect(5, 7, 100, 70), image.Rect(40, 40, 43, 43)} {
				where := in
				if in.Empty() {
					where = image.Rect(0, 0, 113, 81)
				}
				m, err := t.Match(s, in)
				Expect(err).NotTo(HaveOccurred())
				at, score := best(t, s, where, image.Rectangle{})
				Expect(m.At).To(Equal(at))
				Expect(m.Score).To(Equal(score))
				near := image.Rect(at.X-8, at.Y-8, at.X+9, at.Y+9)
				if where.In(near) {
					Expect(m.SecondAt).To(Equal(image.Pt(-1, -1)))
					Expect(m.Second).To(Equal(-1.0))
					continue
				}
				at, score = best(t, s, where, near)
				Expect(m.SecondAt).To(Equal(at))
				Expect(m.Second).To(Equal(score))
			}
		}
	})

	It("stays within the margin that the exact scores are taken from", func() {
		rng := rand.New(rand.NewPCG(12, 1))
		worst := 0.0
		for i, size := range []image.Point{{X: 2, Y: 2}, {X: 8, Y: 8}, {X: 16, Y: 16}, {X: 31, Y: 17}, {X: 48, Y: 48}, {X: 120, Y: 40}} {
			for _, sigma := range []float64{0, 0.4, 1, 8} {
				s := noisy(lights(160, 96, uint64(i)), sigma, rng)
				in := image.Rect(30, 20, 30+size.X, 20+size.Y)
				for _, alpha := range [][]byte{nil, disc(size.X, size.Y)} {
					t, err := vision.NewTemplate(noisy(cut(s, in), 20, rng), alpha)
					Expect(err).NotTo(HaveOccurred())
					search, err := t.Search(s)
					Expect(err).NotTo(HaveOccurred())
					for j, v := range t.Direct(s) {
						worst = max(worst, math.Abs(v-search[j]))
					}
				}
			}
		}
		AddReportEntry("largest error of a search", worst)
		Expect(worst).To(BeNumerically("<", vision.SearchMargin))
	})

	It("takes the first place in reading order when scores are equal", func() {
		s, sp := screen.New(200, 150), sprite(3)
		for _, p := range []image.Point{{X: 150, Y: 100}, {X: 20, Y: 100}, {X: 90, Y: 30}} {
			put(s, sp, nil, p)
		}
		m, err := template(sp, nil).Match(s, image.Rectangle{})
		Expect(err).NotTo(HaveOccurred())
		Expect(m).To(Equal(vision.Match{At: image.Pt(90, 30), Score: 1, Second: 1, SecondAt: image.Pt(20, 100)}))
		m, err = template(sp, disc(16, 16)).Match(s, image.Rectangle{})
		Expect(err).NotTo(HaveOccurred())
		Expect(m).To(Equal(vision.Match{At: image.Pt(90, 30), Score: 1, Second: 1, SecondAt: image.Pt(20, 100)}))
	})

	It("gives score 0 on a flat screen", func() {
		s := screen.New(256, 240)
		for _, alpha := range [][]byte{nil, disc(16, 16)} {
			for _, level := range []byte{0, 93, 255} {
				for i := range s.Y {
					s.Y[i] = level
				}
				m, err := template(sprite(1), alpha).Match(s, image.Rectangle{})
				Expect(err).NotTo(HaveOccurred())
				Expect(m.Score).To(Equal(0.0))
				Expect(m.Second).To(Equal(0.0))
				Expect(m.At).To(Equal(image.Pt(0, 0)))
			}
		}
	})

	It("does not look at what lies under the mask", func() {
		sp, alpha := sprite(9), disc(16, 16)
		s := lights(100, 90, 9)
		put(s, sp, alpha, image.Pt(50, 33))
		other := sp.Clone()
		for i, a := range alpha {
			if a < 128 {
				other.Y[i] = 255 - other.Y[i]
			}
		}
		for _, pic := range []*screen.Screen{sp, other} {
			m, err := template(pic, alpha).Match(s, image.Rectangle{})
			Expect(err).NotTo(HaveOccurred())
			Expect(m.At).To(Equal(image.Pt(50, 33)))
			Expect(m.Score).To(Equal(1.0))
		}
	})

	It("uses alpha from 128 on and nothing below", func() {
		sp := sprite(2)
		alpha := make([]byte, 256)
		for i := range alpha {
			alpha[i] = 128
		}
		Expect(template(sp, alpha).Masked()).To(BeFalse())
		alpha[17] = 127
		Expect(template(sp, alpha).Masked()).To(BeTrue())
	})

	It("restricts the place of the top left pixel", func() {
		s, sp := screen.New(64, 64), sprite(6)
		put(s, sp, nil, image.Pt(10, 10))
		put(s, sp, nil, image.Pt(48, 48)) // the last possible place
		t := template(sp, nil)
		at := func(r image.Rectangle) image.Point {
			m, err := t.Match(s, r)
			ExpectWithOffset(1, err).NotTo(HaveOccurred())
			return m.At
		}
		Expect(at(image.Rectangle{})).To(Equal(image.Pt(10, 10)))
		Expect(at(image.Rect(10, 10, 11, 11))).To(Equal(image.Pt(10, 10)))
		Expect(at(image.Rect(11, 10, 64, 64))).To(Equal(image.Pt(48, 48)))
		Expect(at(image.Rect(48, 48, 900, 900))).To(Equal(image.Pt(48, 48)))
		Expect(at(image.Rect(-20, -20, 900, 900))).To(Equal(image.Pt(10, 10)))
		_, err := t.Match(s, image.Rect(49, 0, 64, 64))
		Expect(err).To(MatchError(vision.ErrOutside))
		_, err = t.Match(s, image.Rect(-5, -5, 0, 0))
		Expect(err).To(MatchError(vision.ErrOutside))
	})

	It("refuses a template larger than the screen and a place over the edge", func() {
		t := template(sprite(1), nil)
		for _, s := range []*screen.Screen{screen.New(15, 16), screen.New(16, 15)} {
			_, err := t.Match(s, image.Rectangle{})
			Expect(err).To(MatchError(vision.ErrTooLarge))
			_, err = t.ScoreAt(s, image.Point{})
			Expect(err).To(MatchError(vision.ErrTooLarge))
		}
		s := screen.New(16, 16)
		put(s, sprite(1), nil, image.Point{})
		m, err := t.Match(s, image.Rectangle{})
		Expect(err).NotTo(HaveOccurred())
		Expect(m).To(Equal(vision.Match{Score: 1, Second: -1, SecondAt: image.Pt(-1, -1)}))
		for _, p := range []image.Point{{X: 1}, {Y: 1}, {X: -1}, {Y: -1}} {
			_, err = t.ScoreAt(s, p)
			Expect(err).To(MatchError(vision.ErrOutside))
		}
	})

	It("may run in several goroutines at once", func() {
		s := noisy(lights(128, 96, 1), 8, rand.New(rand.NewPCG(1, 1)))
		for _, alpha := range [][]byte{nil, disc(16, 16)} {
			t := template(sprite(1), alpha)
			want, err := t.Match(s, image.Rectangle{})
			Expect(err).NotTo(HaveOccurred())
			got := make([]vision.Match, 8)
			var wg sync.WaitGroup
			for i := range got {
				wg.Go(func() { got[i], _ = t.Match(s, image.Rectangle{}) })
			}
			wg.Wait()
			for _, m := range got {
				Expect(m).To(Equal(want))
			}
		}
	})
})

var _ = Describe("the scores of all places at once", func() {
	It("are those of each place, to the last bit", func() {
		rng := rand.New(rand.NewPCG(31, 1))
		for _, c := range []struct{ w, h, tw, th int }{{40, 30, 16, 16}, {70, 20, 7, 5}, {33, 33, 33, 2}, {9, 50, 2, 9}, {131, 17, 3, 17}, {260, 9, 15, 8}} {
			for _, masked := range []bool{false, true} {
				s, sp := screen.New(c.w, c.h), screen.New(c.tw, c.th)
				for i := range s.Y {
					s.Y[i] = byte(rng.Uint32())
					if i%c.w < c.w/3 { // flat, and as far from the middle as can be
						s.Y[i] = 255
					}
				}
				for i := range sp.Y {
					sp.Y[i] = byte(rng.Uint32())
				}
				var alpha []byte
				if masked {
					alpha = make([]byte, c.tw*c.th)
					for i := range alpha {
						alpha[i] = byte(rng.Uint32() | 0x40)
					}
				}
				t := template(sp, alpha)
				across := c.w - c.tw + 1
				for i, v := range t.Direct(s) {
					one, err := t.ScoreAt(s, image.Pt(i%across, i/across))
					Expect(err).NotTo(HaveOccurred())
					Expect(v).To(Equal(one), "place %d of %v", i, c)
				}
			}
		}
	})

	It("are searched another way for large templates, with the same result", func() {
		s := noisy(lights(256, 240, 8), 6, rand.New(rand.NewPCG(8, 8)))
		cut, err := s.Crop(image.Rect(101, 63, 101+72, 63+72))
		Expect(err).NotTo(HaveOccurred())
		for _, alpha := range [][]byte{nil, disc(72, 72)} {
			t := template(noisy(cut, 6, rand.New(rand.NewPCG(9, 9))), alpha)
			m, err := t.Match(s, image.Rectangle{})
			Expect(err).NotTo(HaveOccurred())
			best, at := -2.0, 0
			for i, v := range t.Direct(s) {
				if v > best {
					best, at = v, i
				}
			}
			Expect(m.At).To(Equal(image.Pt(at%185, at/185)))
			Expect(m.At).To(Equal(image.Pt(101, 63)))
			Expect(m.Score).To(Equal(best))
		}
	})
})
