package checks_test

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"strings"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/checks"
	"latchproof/vision/screen"
)

// font is one of the public-domain fonts of testdata/fixed.txt, which says where
// they come from: rows of # and . for every character.
type font struct {
	w, h int
	rows map[rune][]string
}

func fixed(name string) font {
	GinkgoHelper()
	src, err := os.ReadFile("testdata/fixed.txt")
	Expect(err).NotTo(HaveOccurred())
	f := font{rows: map[rune][]string{}}
	var at rune
	for _, line := range strings.Split(string(src), "\n") {
		switch {
		case strings.HasPrefix(line, name+" "):
			at = []rune(line)[len(name)+1]
		case strings.HasPrefix(line, "#") && len(line) > 10, strings.Contains(line, " "):
			at = 0
		case at != 0 && line != "":
			f.rows[at] = append(f.rows[at], line)
			f.w, f.h = len(line), len(f.rows[at])
		}
	}
	Expect(f.rows).To(HaveLen(16))
	return f
}

// draw writes a text in levels of ink and paper.
func (f font) draw(s *screen.Screen, x, y int, text string, ink, paper byte) {
	for _, c := range text {
		for dy := range f.h {
			for dx := range f.w {
				v := paper
				if c != ' ' && f.rows[c][dy][dx] == '#' {
					v = ink
				}
				s.Y[(y+dy)*s.W+x+dx] = v
			}
		}
		x += f.w
	}
}

// sheet is the characters in one row.
func (f font) sheet(characters string) *screen.Screen {
	s := screen.New(len(characters)*f.w, f.h)
	f.draw(s, 0, 0, characters, 230, 20)
	return s
}

// paper is a screen of one level.
func paper(w, h int, level byte) *screen.Screen {
	s := screen.New(w, h)
	for i := range s.Y {
		s.Y[i] = level
	}
	return s
}

// spoiled is a screen after a change of brightness that also drifts over it,
// noise, and JPEG compression; quality 0 is none.
func spoiled(s *screen.Screen, gain, offset, drift, sigma float64, quality int, r *rand.Rand) *screen.Screen {
	GinkgoHelper()
	g := image.NewGray(image.Rect(0, 0, s.W, s.H))
	for i, v := range s.Y {
		x := gain*float64(v) + offset + drift*float64(i%s.W)/float64(s.W) + sigma*r.NormFloat64()
		g.Pix[i] = byte(math.Round(max(0, min(255, x))))
	}
	out := screen.New(s.W, s.H)
	if quality == 0 {
		copy(out.Y, g.Pix)
		return out
	}
	var b bytes.Buffer
	Expect(jpeg.Encode(&b, g, &jpeg.Options{Quality: quality})).To(Succeed())
	img, err := jpeg.Decode(&b)
	Expect(err).NotTo(HaveOccurred())
	for y := range s.H {
		copy(out.Y[y*s.W:][:s.W], img.(*image.Gray).Pix[y*img.(*image.Gray).Stride:])
	}
	return out
}

func cropped(s *screen.Screen, r image.Rectangle) *screen.Screen {
	GinkgoHelper()
	c, err := s.Crop(r)
	Expect(err).NotTo(HaveOccurred())
	return c
}

var _ = Describe("reads", func() {
	glyphs := func(f font, characters string) *checks.Glyphs {
		g, err := checks.NewGlyphs(f.sheet(characters), nil, characters, image.Point{})
		ExpectWithOffset(1, err).NotTo(HaveOccurred())
		return g
	}
	look := func(c checks.Check, s *screen.Screen) checks.Sight {
		sight, err := c.Look(s)
		ExpectWithOffset(1, err).NotTo(HaveOccurred())
		return sight
	}

	It("reads every number of a public-domain font", func() {
		for _, name := range []string{"8x13", "6x10"} {
			f := fixed(name)
			c := checks.NewReads(glyphs(f, "0123456789"), checks.Reading{At: image.Pt(5, 3), Digits: 3})
			for n := range 1000 {
				s := paper(64, 24, 40)
				f.draw(s, 5, 3, fmt.Sprintf("%03d", n), 200, 40)
				sight := look(c, s)
				Expect(sight.Unsure).To(BeFalse(), sight.Why)
				Expect(sight.Value).To(Equal(n), name)
			}
		}
	})

	It("reads letters, and blanks when the sheet has them", func() {
		f := fixed("8x13")
		c := checks.NewReads(glyphs(f, "0123456789ABCDEF "), checks.Reading{At: image.Pt(4, 4), Digits: 4})
		for text, want := range map[string]any{
			"BEEF": "BEEF", "  42": 42, " 0B ": " 0B ", "7  7": "7  7", "    ": "    ", "0123": 123,
		} {
			s := paper(64, 24, 40)
			f.draw(s, 4, 4, text, 220, 40)
			sight := look(c, s)
			Expect(sight.Unsure).To(BeFalse(), sight.Why)
			Expect(sight.Value).To(Equal(want), text)
		}
	})

	It("is never wrong over 10,000 noisy readings", func() {
		readings := 10_000
		if testing.Short() {
			readings = 1_000 // as many take a minute under the race detector
		}
		r := rand.New(rand.NewPCG(16, 4))
		fonts := []font{fixed("8x13"), fixed("6x10")}
		var readers []checks.Check
		for _, f := range fonts {
			readers = append(readers, checks.NewReads(glyphs(f, "0123456789"), checks.Reading{At: image.Pt(9, 5), Digits: 2}))
		}
		var right, unsure, wrong int
		for i := range readings {
			f := fonts[i%2]
			n := r.IntN(100)
			s := paper(64, 32, 30)
			f.draw(s, 9, 5, fmt.Sprintf("%02d", n), byte(150+r.IntN(100)), 30)
			quality := 0
			if r.IntN(4) > 0 {
				quality = 40 + r.IntN(56)
			}
			s = spoiled(s, 0.7+0.6*r.Float64(), 40*r.Float64()-10, 30*r.Float64(), 25*r.Float64(), quality, r)
			sight := look(readers[i%2], s)
			switch {
			case sight.Unsure:
				unsure++
			case sight.Value == n:
				right++
			default:
				wrong++
				GinkgoWriter.Printf("%d: %s\n", n, sight.Why)
			}
		}
		AddReportEntry("noisy readings", fmt.Sprintf("%d right, %d unsure, %d wrong of %d", right, unsure, wrong, readings), ReportEntryVisibilityAlways)
		Expect(wrong).To(BeZero())
		Expect(right).To(BeNumerically(">", readings*9/10), "unsure must be the exception")
	})

	It("is unsure of what is not in the sheet", func() {
		f := fixed("8x13")
		c := checks.NewReads(glyphs(f, "0123456789"), checks.Reading{At: image.Pt(4, 4), Digits: 1})
		for _, text := range []string{"A", "B", "C", "D", "E", "F", " "} {
			s := paper(64, 24, 40)
			f.draw(s, 4, 4, text, 220, 40)
			sight := look(c, s)
			Expect(sight.Unsure).To(BeTrue(), "%s: %s", text, sight.Why)
			Expect(sight.Holds).To(BeFalse())
			Expect(sight.Value).To(BeNil())
			Expect(sight.Why).To(MatchRegexp(`^cannot be read: the cell at \(4, 4\) fits `))
		}
	})

	It("is unsure of a cell that lies between two glyphs, and of one moved by a pixel", func() {
		f := fixed("8x13")
		c := checks.NewReads(glyphs(f, "0123456789"), checks.Reading{At: image.Pt(4, 4), Digits: 1, Score: 0.5})
		a, b := paper(64, 24, 20), paper(64, 24, 20)
		f.draw(a, 4, 4, "8", 230, 20)
		f.draw(b, 4, 4, "6", 230, 20)
		for i := range a.Y {
			a.Y[i] = byte((int(a.Y[i]) + int(b.Y[i])) / 2)
		}
		sight := look(c, a)
		Expect(sight.Unsure).To(BeTrue(), sight.Why)
		Expect(sight.Why).To(HaveSuffix("too near to tell"))
		strict := checks.NewReads(glyphs(f, "0123456789"), checks.Reading{At: image.Pt(4, 4), Digits: 1})
		for _, d := range []image.Point{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			for _, digit := range "0123456789" {
				s := paper(64, 24, 20)
				f.draw(s, 4+d.X, 4+d.Y, string(digit), 230, 20)
				sight := look(strict, s)
				Expect(sight.Unsure || sight.Seen == fmt.Sprintf("%q", string(digit))).To(BeTrue(), "%c moved by %v: %s", digit, d, sight.Why)
			}
		}
	})

	It("holds when the number is the one wanted", func() {
		f := fixed("8x13")
		s := paper(64, 24, 40)
		f.draw(s, 4, 4, "07", 220, 40)
		seven, six, eight, text, other := int64(7), int64(6), int64(8), "07", "7"
		for _, c := range []struct {
			what checks.Reading
			want bool
			why  string
		}{
			{checks.Reading{}, true, `reads "07"; worst`},
			{checks.Reading{Equals: &seven}, true, `reads "07"; worst`},
			{checks.Reading{Equals: &six}, false, `reads "07", not 6; worst`},
			{checks.Reading{Text: &text}, true, `reads "07"; worst`},
			{checks.Reading{Text: &other}, false, `reads "07", not "7"; worst`},
			{checks.Reading{AtLeast: &seven}, true, `reads "07"; worst`},
			{checks.Reading{AtLeast: &eight}, false, `reads "07", not 8 or more; worst`},
			{checks.Reading{AtMost: &seven}, true, `reads "07"; worst`},
			{checks.Reading{AtMost: &six}, false, `reads "07", not 6 or less; worst`},
			{checks.Reading{AtLeast: &six, AtMost: &eight}, true, `reads "07"; worst`},
		} {
			c.what.At, c.what.Digits = image.Pt(4, 4), 2
			check := checks.NewReads(glyphs(f, "0123456789"), c.what)
			sight := look(check, s)
			Expect(sight.Holds).To(Equal(c.want), check.Describe())
			Expect(sight.Why).To(HavePrefix(c.why))
			Expect(sight.Value).To(Equal(7))
			Expect(sight.Unsure).To(BeFalse())
		}
	})

	It("takes a pitch and a sheet of several rows from a spec", func() {
		f := fixed("8x13")
		dir := newFolder()
		sheet := screen.New(4*f.w, 4*f.h)
		for i, row := range []string{"0123", "4567", "89AB", "CDEF"} {
			f.draw(sheet, 0, i*f.h, row, 230, 20)
		}
		dir.save("hex.png", sheet)
		c := dir.good("reads: {glyphs: hex, at: [10, 20], digits: 2, characters: 0123456789ABCDEF, cell: [8, 13], pitch: 12}, equals: 4B")
		s := paper(256, 240, 40)
		f.draw(s, 10, 20, "4", 220, 40)
		f.draw(s, 22, 20, "B", 220, 40)
		sight := look(c, s)
		Expect(sight.Holds).To(BeTrue(), sight.Why)
		Expect(sight.Value).To(Equal("4B"))
		Expect(sight.At).To(Equal(image.Pt(10, 20)))
		Expect(sight.Size).To(Equal(image.Pt(20, 13)))
		Expect(c.Describe()).To(Equal(`reads 2 characters: "4B" at (10, 20) by hex`))
		Expect(c.Templates()).To(Equal([]string{"hex.png"}))
	})

	It("agrees with the installed font", func() {
		const archive = "/usr/share/fonts/X11/misc/8x13-ISO8859-1.pcf.gz"
		if _, err := os.Stat(archive); err != nil {
			Skip("xfonts-base is not installed")
		}
		out, err := exec.Command("/usr/bin/python3", "testdata/fixed.py", "/").Output()
		Expect(err).NotTo(HaveOccurred())
		Expect(os.ReadFile("testdata/fixed.txt")).To(Equal(out))
	})

	DescribeTable("refuses sheets that cannot be read by", func(value, want string) {
		f, dir := fixed("8x13"), newFolder()
		dir.save("good.png", f.sheet("0123456789"))
		dir.save("seventy.png", cropped(f.sheet("0123456789"), image.Rect(0, 0, 75, 13)))
		dir.save("gap.png", f.sheet("01 3456789"))
		dir.save("twin.png", f.sheet("0123456788"))
		dir.save("short.png", f.sheet("01234"))
		_, bad := dir.load("reads: " + value)
		Expect(bad).To(Equal([]string{"a.spec.yaml:6:" + want}))
	},
		Entry("a width that does not divide", "{glyphs: seventy, at: [1, 1], digits: 2}",
			"38: checkpoints[0].reads.glyphs: seventy.png: not a usable sheet of glyphs: a width of 75 pixels cannot be shared evenly among 10 characters"),
		Entry("a missing digit", "{glyphs: gap, at: [1, 1], digits: 2}",
			`38: checkpoints[0].reads.glyphs: gap.png: not a usable sheet of glyphs: the cell 3 of '2' is blank`),
		Entry("a digit twice", "{glyphs: twin, at: [1, 1], digits: 2}",
			`38: checkpoints[0].reads.glyphs: twin.png: not a usable sheet of glyphs: '8' and '9' look the same`),
		Entry("too few cells", "{glyphs: short, at: [1, 1], digits: 2, cell: [8, 13]}",
			"38: checkpoints[0].reads.glyphs: short.png: not a usable sheet of glyphs: it has 5 cells of 8x13 for 10 characters"),
		Entry("cells that do not divide", "{glyphs: good, at: [1, 1], digits: 2, cell: [9, 13]}",
			"38: checkpoints[0].reads.glyphs: good.png: not a usable sheet of glyphs: 80x13 pixels cannot be divided into cells of 9x13"),
		Entry("a space that is none", "{glyphs: good, at: [1, 1], digits: 2, characters: '012345678 '}",
			"38: checkpoints[0].reads.glyphs: good.png: not a usable sheet of glyphs: the cell 10 of the space is not blank"),
		Entry("a character named twice", "{glyphs: good, at: [1, 1], digits: 2, characters: '0123456780'}",
			`38: checkpoints[0].reads.glyphs: good.png: not a usable sheet of glyphs: '0' is named twice`),
		Entry("a place outside", "{glyphs: good, at: [250, 1], digits: 2}",
			"48: checkpoints[0].reads.at: 2 characters of 8x13 at (250, 1) reach over the raster of 256x240"),
		Entry("bounds that contradict", "{glyphs: good, at: [1, 1], digits: 2}, at_least: 5, at_most: 4",
			"90: checkpoints[0].at_most: 4 is below at_least 5"),
		Entry("two wants", "{glyphs: good, at: [1, 1], digits: 2}, equals: 5, at_most: 4",
			"88: checkpoints[0].at_most: not together with equals"),
		Entry("a want of another kind", "{glyphs: good, at: [1, 1], digits: 2}, equals: [1, 2]",
			"76: checkpoints[0].equals: want a whole number, have a list"),
	)
})
