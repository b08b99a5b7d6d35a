package plot

import (
	"unicode/utf8"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// letter is the height of a line of text that room is kept for, and wide how
// much of it a character takes at most on the average: the digits of DejaVu
// Sans, a wide font, take 1303/2048 of it, those of most others less.
const (
	letter = 17
	wide   = 0.64
)

// writer lays text out without measuring a font, for the page's own font is not
// known, and ties it to its place instead.
type writer struct{}

// Cache is that of the library; its fonts give the SVG writer a name to write,
// which rewrite drops.
func (writer) Cache() *font.Cache { return font.DefaultCache }

func (writer) Extents(font.Font) font.Extents {
	return font.Extents{Ascent: letter, Height: letter}
}

func (writer) Lines(txt string) []string { return []string{txt} }

func (writer) Box(txt string, _ font.Font) (width, height, depth vg.Length) {
	return vg.Length(float64(utf8.RuneCountInString(txt)) * wide * letter), letter, 0
}

// Draw writes text with its alignment in its colour.
func (w writer) Draw(c vg.Canvas, txt string, sty text.Style, pt vg.Point) {
	r, _, ok := roleOf(sty.Color)
	if !ok {
		r = roleNum
	}
	a := anchorStart
	switch sty.XAlign {
	case draw.XCenter:
		a = anchorMiddle
	case draw.XRight:
		a = anchorEnd
	}
	switch sty.YAlign {
	case draw.YTop:
		pt.Y -= 0.98 * letter
	case draw.YCenter:
		pt.Y -= 0.29 * letter
	case draw.YBottom:
		pt.Y += 0.25 * letter
	}
	c.SetColor(r.colour(a))
	c.FillString(w.Cache().Lookup(plot.DefaultFont, letter), pt, txt)
}

func style(r role, x text.XAlignment, y text.YAlignment) text.Style {
	return text.Style{Color: r.line(), Font: font.From(plot.DefaultFont, letter), XAlign: x, YAlign: y, Handler: writer{}}
}
