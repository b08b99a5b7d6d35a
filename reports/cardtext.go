package reports

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"sort"
	"strings"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// cardFont is one of the two fonts of the card. They are the Go fonts: Latin,
// Greek and Cyrillic letters, and no others.
type cardFont struct{ f *sfnt.Font }

var (
	regular = sync.OnceValue(func() cardFont { return parsed(goregular.TTF) })
	bold    = sync.OnceValue(func() cardFont { return parsed(gobold.TTF) })
)

func parsed(ttf []byte) cardFont {
	f, err := opentype.Parse(ttf)
	if err != nil {
		panic(err) // the font is part of the program
	}
	return cardFont{f}
}

// face is the font at a size in pixels.
func (f cardFont) face(size float64) font.Face {
	face, err := opentype.NewFace(f.f, &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingNone})
	if err != nil {
		panic(err)
	}
	return face
}

// drawable is a text in which every character that the font lacks is a box and
// its code point, so that nothing is missing in silence.
func (f cardFont) drawable(s string) string {
	var b strings.Builder
	var buf sfnt.Buffer
	lacking := false
	for _, r := range s {
		i, err := f.f.GlyphIndex(&buf, r)
		switch {
		case r == 0x2068 || r == 0x2069: // isolates: right-to-left letters come out as boxes, which read from the left
			continue
		case r < 0x300 && r != 0xad || err == nil && i != 0:
			if lacking && r != ' ' {
				b.WriteByte(' ')
			}
			b.WriteRune(r)
			lacking = false
		default:
			if lacking {
				b.WriteByte(' ')
			}
			fmt.Fprintf(&b, "□U+%04X", r)
			lacking = true
		}
	}
	return b.String()
}

// A pen writes lines of one size and colour.
type pen struct {
	font   cardFont
	face   font.Face
	colour color.Color
	height int // from line to line
}

func newPen(f cardFont, size float64, c color.Color) pen {
	return pen{f, f.face(size), c, int(size * 1.32)}
}

func (p pen) width(s string) int { return font.MeasureString(p.face, s).Ceil() }

// line writes one line with its base line at y and gives its width. What is wider
// than wide ends with an ellipsis.
func (p pen) line(dst draw.Image, x, y, wide int, s string) int {
	s = p.fit(p.font.drawable(s), wide)
	d := font.Drawer{Dst: dst, Src: image.NewUniform(p.colour), Face: p.face, Dot: fixed.P(x, y)}
	d.DrawString(s)
	return p.width(s)
}

// fit cuts a text to a width.
func (p pen) fit(s string, wide int) string {
	s = first(s, 400)
	if p.width(s) <= wide {
		return s
	}
	runes := []rune(s)
	n := p.most(runes, wide-p.width("…"))
	return strings.TrimRight(string(runes[:n]), " ,;:") + "…"
}

// first is at most n characters of a text.
func first(s string, n int) string {
	s, _ = cut(s, n)
	return s
}

// most is how many characters from the first on fit a width.
func (p pen) most(runes []rune, wide int) int {
	return sort.Search(len(runes), func(n int) bool { return p.width(string(runes[:n+1])) > wide })
}

// lines breaks a text into at most most lines; the last one ends with an
// ellipsis when there is more. Words wider than a line are broken.
func (p pen) lines(s string, wide, most int) (out []string) {
	words := strings.Fields(first(p.font.drawable(s), 1000))
	space, more := p.width(" "), p.width(" …")
	for len(words) > 0 {
		n, w := 0, -space
		for n < len(words) && w+space+p.width(words[n]) <= wide {
			w += space + p.width(words[n])
			n++
		}
		last := len(out) == most-1
		switch {
		case last && n == len(words):
			return append(out, strings.Join(words, " "))
		case last && n <= 1:
			return append(out, p.fit(strings.Join(words[:min(len(words), 2)], " "), wide))
		case last:
			for ; n > 1 && w+more > wide; n-- {
				w -= space + p.width(words[n-1])
			}
			return append(out, strings.TrimRight(strings.Join(words[:n], " "), ",;:")+" …")
		case n == 0:
			word := []rune(words[0])
			k := max(p.most(word, wide), 1)
			out, words[0] = append(out, string(word[:k])), string(word[k:])
			if words[0] == "" {
				words = words[1:]
			}
		default:
			out, words = append(out, strings.Join(words[:n], " ")), words[n:]
		}
	}
	return out
}

// paragraph writes lines and gives the base line of the one that would follow.
func (p pen) paragraph(dst draw.Image, x, y, wide, most int, s string) int {
	for _, l := range p.lines(s, wide, most) {
		d := font.Drawer{Dst: dst, Src: image.NewUniform(p.colour), Face: p.face, Dot: fixed.P(x, y)}
		d.DrawString(l)
		y += p.height
	}
	return y
}
