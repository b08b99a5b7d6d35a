package look_test

import (
	"image"
	"image/color"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/look"
	"latchproof/vision"
	"latchproof/vision/screen"
)

var _ = Describe("a cut", func() {
	// A checkerboard of 0 and 200 has the mean 100 and is 100 from it everywhere.
	board := func(s *screen.Screen, r image.Rectangle) {
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				s.Y[y*s.W+x] = byte(200 * ((x + y) % 2))
			}
		}
	}

	It("is weighed by its contrast and by the second best place", func() {
		s := screen.New(64, 48)
		board(s, image.Rect(4, 4, 12, 12))
		board(s, image.Rect(40, 30, 48, 38))
		w, err := look.Weigh(s, image.Rect(4, 4, 12, 12), nil)
		Expect(err).NotTo(HaveOccurred())
		Expect(w.Contrast).To(Equal(100.0))
		Expect(w.Used).To(Equal(64))
		Expect([]any{w.Own, w.Second, w.SecondAt, w.Margin()}).To(Equal([]any{1.0, 1.0, image.Pt(40, 30), 0.0}))
		Expect(w.Warnings()).To(ConsistOf(ContainSubstring("not unique: (40, 30)")))
	})

	It("is plain when noise can hide it", func() {
		s := screen.New(64, 48)
		for i := range s.Y {
			s.Y[i] = byte(100 + i%7*i%5)
		}
		w, err := look.Weigh(s, image.Rect(4, 4, 12, 12), nil)
		Expect(err).NotTo(HaveOccurred())
		Expect(w.Contrast).To(BeNumerically("<", look.PlainContrast))
		Expect(w.Warnings()).To(ContainElement(ContainSubstring("plain")))
	})

	It("refuses what is flat or outside", func() {
		s := screen.New(64, 48)
		_, err := look.Weigh(s, image.Rect(4, 4, 12, 12), nil)
		Expect(err).To(MatchError(vision.ErrFlat))
		_, err = look.Weigh(s, image.Rect(60, 40, 68, 48), nil)
		Expect(err).To(MatchError(screen.ErrOutside))
	})

	It("leaves out what is hidden, by place and by colour", func() {
		s := screen.New(16, 16)
		board(s, image.Rect(0, 0, 16, 16))
		r := image.Rect(4, 4, 8, 8)
		m := look.NewMask(r)
		m.Hide(image.Rect(0, 0, 16, 5)) // its first row
		Expect(m.Alpha()).To(Equal([]byte{0, 0, 0, 0, 255, 255, 255, 255, 255, 255, 255, 255, 255, 255, 255, 255}))
		m.Clear(s, color.RGBA{190, 200, 210, 255}, 10)
		Expect(m.Alpha()).To(Equal([]byte{0, 0, 0, 0, 0, 255, 0, 255, 255, 0, 255, 0, 0, 255, 0, 255}))
		img, err := look.Cut(s, r, m.Alpha())
		Expect(err).NotTo(HaveOccurred())
		back := screen.FromImage(img)
		for i, a := range m.Alpha() {
			Expect(img.Pix[4*i+3]).To(Equal(a))
			if a != 0 {
				Expect(back.Y[i]).To(Equal(s.Y[(4+i/4)*16+4+i%4]))
			}
		}
		n := look.NewMask(r)
		n.Clear(s, color.RGBA{190, 200, 210, 255}, 9)
		Expect(n.Alpha()).NotTo(ContainElement(byte(0)))
	})
})
