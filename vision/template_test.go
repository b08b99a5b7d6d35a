package vision_test

import (
	"image"
	"image/color"
	"image/png"
	"io/fs"
	"os"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/vision"
	"latchproof/vision/screen"
)

var _ = Describe("a template file", func() {
	var dir string
	BeforeEach(func() { dir = GinkgoT().TempDir() })
	save := func(img image.Image) string {
		path := filepath.Join(dir, "t.png")
		f, err := os.Create(path)
		Expect(err).NotTo(HaveOccurred())
		Expect(png.Encode(f, img)).To(Succeed())
		Expect(f.Close()).To(Succeed())
		return path
	}

	It("is refused when it is flat, and says so", func() {
		path := save(image.NewGray(image.Rect(0, 0, 8, 8)))
		_, err := vision.LoadTemplate(path)
		Expect(err).To(MatchError(vision.ErrFlat))
		Expect(err).To(MatchError(path + ": flat template: all its pixels have the same luma"))
	})

	It("is refused when only unused pixels differ", func() {
		img := image.NewNRGBA(image.Rect(0, 0, 4, 4))
		for i := range 16 {
			img.SetNRGBA(i%4, i/4, color.NRGBA{90, 90, 90, 255})
		}
		img.SetNRGBA(2, 2, color.NRGBA{200, 200, 200, 127})
		_, err := vision.LoadTemplate(save(img))
		Expect(err).To(MatchError(vision.ErrFlat))
		img.SetNRGBA(2, 2, color.NRGBA{200, 200, 200, 128})
		_, err = vision.LoadTemplate(save(img))
		Expect(err).NotTo(HaveOccurred())
	})

	DescribeTable("is refused when it is too small",
		func(w, h, unused int, ok bool) {
			s := screen.New(w, h)
			alpha := make([]byte, w*h)
			for i := range s.Y {
				s.Y[i] = byte(i * 9)
				if i >= unused {
					alpha[i] = 255
				}
			}
			_, err := vision.NewTemplate(s, alpha)
			if ok {
				Expect(err).NotTo(HaveOccurred())
			} else {
				Expect(err).To(MatchError(vision.ErrTooSmall))
			}
		},
		Entry("one pixel", 1, 1, 0, false),
		Entry("one column", 1, 9, 0, false),
		Entry("one row", 9, 1, 0, false),
		Entry("two by two", 2, 2, 0, true),
		Entry("three used pixels", 3, 3, 6, false),
		Entry("four used pixels", 3, 3, 5, true),
		Entry("nothing used", 3, 3, 9, false),
	)

	It("is refused when it is no PNG or not there", func() {
		path := filepath.Join(dir, "t.png")
		_, err := vision.LoadTemplate(path)
		Expect(err).To(MatchError(fs.ErrNotExist))
		Expect(os.WriteFile(path, []byte("text"), 0o600)).To(Succeed())
		_, err = vision.LoadTemplate(path)
		Expect(err).To(MatchError(screen.ErrPNG))
	})

	It("is refused with an alpha plane of another size", func() {
		_, err := vision.NewTemplate(screen.New(3, 3), make([]byte, 8))
		Expect(err).To(MatchError(vision.ErrSize))
	})

	It("keeps name, size and mask", func() {
		img := image.NewNRGBA(image.Rect(0, 0, 5, 3))
		for i := range 15 {
			img.SetNRGBA(i%5, i/5, color.NRGBA{byte(i * 10), 7, 9, 255})
		}
		img.SetNRGBA(0, 0, color.NRGBA{})
		path := save(img)
		t, err := vision.LoadTemplate(path)
		Expect(err).NotTo(HaveOccurred())
		Expect(t.Name()).To(Equal(path))
		Expect(t.Size()).To(Equal(image.Pt(5, 3)))
		Expect(t.Masked()).To(BeTrue())
	})
})
