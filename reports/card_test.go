package reports

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func carded(s Session) image.Image {
	GinkgoHelper()
	var b bytes.Buffer
	Expect(WriteCard(&b, s)).To(Succeed())
	img, err := png.Decode(&b)
	Expect(err).NotTo(HaveOccurred())
	Expect(img.Bounds()).To(Equal(image.Rect(0, 0, 1200, 630)))
	return img
}

// only says whether a part of a card is of one colour alone.
func only(img image.Image, r image.Rectangle, name string) bool {
	want := color.RGBAModel.Convert(lightColour(name))
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			if color.RGBAModel.Convert(img.At(x, y)) != want {
				return false
			}
		}
	}
	return true
}

var _ = Describe("the card", func() {
	It("has the verdict's colour and shape", func() {
		for verdict, class := range map[string]string{"held": "yes", "not held": "no", "cannot tell": "unknown"} {
			img := carded(Session{Specs: []Spec{{Verdict: verdict}}})
			Expect(only(img, image.Rect(0, 0, 1200, 12), class)).To(BeTrue())
			// Where the disc and the octagon are filled, and the diamond is not.
			Expect(only(img, image.Rect(56, 84, 60, 96), class)).To(Equal(class != "unknown"))
			Expect(only(img, image.Rect(48, 44, 54, 50), "paper")).To(BeTrue())
			// The octagon reaches further into its corners than the disc.
			octagon := color.RGBAModel.Convert(img.At(48+29, 44+5)) == color.RGBAModel.Convert(lightColour("no"))
			Expect(octagon).To(Equal(class == "no"))
		}
	})

	It("has only colours that are told apart", func() {
		for _, p := range cardPairs {
			Expect(append(append([]pair{}, textPairs...), shapePairs...)).To(ContainElement(p))
		}
	})

	It("keeps to its margins, whatever the texts are", func() {
		for _, word := range []string{"\x1b[31m\u202e\xff", "\u05e9\u05dc", strings.Repeat("日", 300), strings.Repeat("long words and ", 300), strings.Repeat("W", 3000)} {
			plainSpec := filled(same(word))
			plainSpec.Baseline, plainSpec.Soak, plainSpec.Specs = nil, nil, plainSpec.Specs[:1]
			for _, s := range []Session{filled(same(word)), plainSpec} {
				img := drawCard(s)
				for _, r := range []image.Rectangle{image.Rect(0, 12, 46, 630), image.Rect(1154, 12, 1200, 630), image.Rect(46, 618, 1154, 630), image.Rect(46, 570, 1154, 580)} {
					Expect(only(img, r, "paper")).To(BeTrue(), "%.30q: %v", word, r)
				}
			}
		}
	})

	It("shows both pictures pixel by pixel where they fit", func() {
		s := samplePicture()
		s.Specs[0].Divergences[0].Region = nil
		a, err := png.Decode(bytes.NewReader(encoded(decoded(s.Specs[0].Divergences[0].PictureA))))
		Expect(err).NotTo(HaveOccurred())
		b := decoded(s.Specs[0].Divergences[0].PictureB)
		img := carded(s)
		for _, p := range []struct {
			want image.Image
			x    int
		}{{a, 48}, {b, 48 + 256 + 16}} {
			for y := range 240 {
				for x := range 256 {
					if color.RGBAModel.Convert(img.At(p.x+x, 290+y)) != color.RGBAModel.Convert(p.want.At(x, y)) {
						Fail("a pixel of the picture is another one")
					}
				}
			}
		}
		s.Specs[0].Divergences[0].PictureB = nil
		Expect(only(carded(s), image.Rect(321, 300, 575, 400), "paper")).To(BeTrue())
		s.Specs[0].Divergences[0].PictureA = &Picture{Data: []byte("no picture")}
		Expect(only(carded(s), image.Rect(49, 300, 300, 570), "paper")).To(BeFalse(), "facts take the place of pictures")
	})

	It("shows what its font lacks as boxes with code points", func() {
		f := regular()
		Expect(f.drawable("Größe, Ωμέγα, Жук 12 %…")).To(Equal("Größe, Ωμέγα, Жук 12 %…"))
		Expect(f.drawable("a日本b")).To(Equal("a□U+65E5 □U+672C b"))
		Expect(f.drawable("\u2068\u05e9\u2069")).To(Equal("□U+05E9"))
		Expect(f.drawable("□")).To(Equal("□"))
	})

	It("ends what does not fit with an ellipsis, between words where it can", func() {
		p := newPen(regular(), 30, color.Black)
		text := strings.Repeat("several words in a row ", 40)
		lines := p.lines(text, 500, 3)
		Expect(lines).To(HaveLen(3))
		for _, l := range lines {
			Expect(p.width(l)).To(BeNumerically("<=", 500))
		}
		Expect(lines[2]).To(MatchRegexp(`(several|words|in|a|row) …$`))
		Expect(strings.Join(p.lines("a few words", 500, 3), "|")).To(Equal("a few words"))
		Expect(p.lines("", 500, 3)).To(BeEmpty())
		for _, l := range p.lines(strings.Repeat("W", 3000), 500, 3) {
			Expect(p.width(l)).To(BeNumerically("<=", 500))
		}
		Expect(p.fit("short", 500)).To(Equal("short"))
		Expect(p.fit(strings.Repeat("W", 300), 500)).To(HaveSuffix("W…"))
	})
})

func encoded(img image.Image) []byte {
	GinkgoHelper()
	var b bytes.Buffer
	Expect(png.Encode(&b, img)).To(Succeed())
	return b.Bytes()
}
