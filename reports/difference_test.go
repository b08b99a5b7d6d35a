package reports

import (
	"bytes"
	"image"
	"image/color"
	"image/png"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("the difference of two pictures", func() {
	pic := func(w, h int, at func(x, y int) color.RGBA) *Picture {
		m := image.NewRGBA(image.Rect(0, 0, w, h))
		for y := range h {
			for x := range w {
				m.SetRGBA(x, y, at(x, y))
			}
		}
		var b bytes.Buffer
		Expect(png.Encode(&b, m)).To(Succeed())
		return &Picture{Data: b.Bytes(), Type: "image/png"}
	}
	grey := func(x, y int) color.RGBA { return color.RGBA{R: 100, G: 100, B: 100, A: 255} }

	It("is black where they are equal, and four times the largest channel where not", func() {
		a := pic(6, 4, grey)
		b := pic(6, 4, func(x, y int) color.RGBA {
			switch {
			case x == 2 && y == 1:
				return color.RGBA{R: 100, G: 93, B: 105, A: 255} // 7 of green is the most
			case x == 5 && y == 3:
				return color.RGBA{R: 255, G: 100, B: 100, A: 255} // beyond what a pixel holds
			}
			return grey(x, y)
		})
		img, err := png.Decode(bytes.NewReader(Difference(a, b).Data))
		Expect(err).NotTo(HaveOccurred())
		for y := range 4 {
			for x := range 6 {
				want := byte(0)
				switch {
				case x == 2 && y == 1:
					want = 28
				case x == 5 && y == 3:
					want = 255
				}
				Expect(img.(*image.Gray).GrayAt(x, y).Y).To(Equal(want), "at %d,%d", x, y)
			}
		}
	})
	It("is none when a picture is missing, broken or of another size", func() {
		a := pic(6, 4, grey)
		Expect(Difference(nil, a)).To(BeNil())
		Expect(Difference(a, &Picture{Data: []byte("no picture")})).To(BeNil())
		Expect(Difference(a, pic(4, 6, grey))).To(BeNil())
	})
})
