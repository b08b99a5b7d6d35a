package checks

import (
	"errors"
	"fmt"
	"image"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"latchproof/vision"
	"latchproof/vision/screen"
)

// DefaultCharacters are those of a sheet when none are given.
const DefaultCharacters = "0123456789"

// maxGlyphs bounds a sheet.
const maxGlyphs = 128

// Glyphs is a sheet of glyphs cut into single templates. It never changes.
type Glyphs struct {
	name   string
	cell   image.Point
	glyphs []glyph
	blank  bool    // a space may be read
	faint  float64 // the least contrast of a glyph, levels
}

type glyph struct {
	char rune
	tpl  *vision.Template
}

// ErrSheet is wrapped by everything that is wrong with a sheet of glyphs.
var ErrSheet = errors.New("not a usable sheet of glyphs")

// NewGlyphs cuts a sheet. characters name its cells, in rows from the top left,
// each once; a space names the blank cell. cell is the size of a cell in pixels;
// zero is the sheet's width shared evenly among the characters, and its whole
// height. alpha is as of vision.NewTemplate. Errors wrap ErrSheet.
func NewGlyphs(sheet *screen.Screen, alpha []byte, characters string, cell image.Point) (*Glyphs, error) {
	n := utf8.RuneCountInString(characters)
	if n < 2 || n > maxGlyphs {
		return nil, fmt.Errorf("%w: %d characters, want 2 to %d", ErrSheet, n, maxGlyphs)
	}
	if cell == (image.Point{}) {
		if sheet.W%n != 0 {
			return nil, fmt.Errorf("%w: a width of %d pixels cannot be shared evenly among %d characters", ErrSheet, sheet.W, n)
		}
		cell = image.Pt(sheet.W/n, sheet.H)
	}
	if cell.X < 2 || cell.Y < 2 || sheet.W%cell.X != 0 || sheet.H%cell.Y != 0 {
		return nil, fmt.Errorf("%w: %dx%d pixels cannot be divided into cells of %dx%d", ErrSheet, sheet.W, sheet.H, cell.X, cell.Y)
	}
	across := sheet.W / cell.X
	if have := across * (sheet.H / cell.Y); have < n {
		return nil, fmt.Errorf("%w: it has %d cells of %dx%d for %d characters", ErrSheet, have, cell.X, cell.Y, n)
	}
	g := &Glyphs{name: "glyphs", cell: cell, faint: 256}
	var bad []string
	i := 0
	for _, c := range characters {
		at := image.Pt(i%across*cell.X, i/across*cell.Y)
		i++
		if strings.Count(characters, string(c)) > 1 {
			bad = append(bad, fmt.Sprintf("%q is named twice", c))
			continue
		}
		pic, err := sheet.Crop(image.Rectangle{Min: at, Max: at.Add(cell)})
		if err != nil {
			return nil, fmt.Errorf("%w: %w", ErrSheet, err)
		}
		tpl, err := vision.NewTemplate(pic, cropAlpha(alpha, sheet.W, at, cell))
		if c == ' ' {
			if g.blank = true; err == nil {
				bad = append(bad, fmt.Sprintf("the cell %d of the space is not blank", i))
			}
			continue
		}
		if errors.Is(err, vision.ErrFlat) {
			bad = append(bad, fmt.Sprintf("the cell %d of %q is blank", i, c))
			continue
		} else if err != nil {
			bad = append(bad, fmt.Sprintf("the cell %d of %q: %v", i, c, err))
			continue
		}
		for _, o := range g.glyphs {
			if same(o.tpl, tpl) {
				bad = append(bad, fmt.Sprintf("%q and %q look the same", o.char, c))
			}
		}
		g.glyphs = append(g.glyphs, glyph{c, tpl})
		g.faint = min(g.faint, tpl.Contrast())
	}
	if len(bad) > 0 {
		bad = slices.Compact(bad)
		return nil, fmt.Errorf("%w: %s", ErrSheet, strings.Join(bad, "; "))
	}
	return g, nil
}

// Cell is the size of a glyph, pixels.
func (g *Glyphs) Cell() image.Point { return g.cell }

func cropAlpha(alpha []byte, w int, at, size image.Point) []byte {
	if alpha == nil {
		return nil
	}
	out := make([]byte, 0, size.X*size.Y)
	for y := range size.Y {
		out = append(out, alpha[(at.Y+y)*w+at.X:][:size.X]...)
	}
	return out
}

func same(a, b *vision.Template) bool { return likeness(a, b, image.Point{}, 1) == 1 }

// reading is what one cell shows.
type reading struct {
	char        rune
	score       float64
	second      float64
	secondChar  rune
	bar         bar
	sure        bool
	why         string // when not sure
	at          image.Point
	nothingElse bool // there is no second
}

// faintest is the least share of a glyph's contrast with which it is read when
// the sheet has a blank.
const faintest = 0.25

// read tells what stands in the cell at a place. score 0 is the default
// threshold for a noise, levels.
func (g *Glyphs) read(s *screen.Screen, at image.Point, score, noise float64) (reading, error) {
	r := reading{at: at, score: -2, second: -2}
	var best *vision.Template
	for _, c := range g.glyphs {
		x, err := c.tpl.ScoreAt(s, at)
		if err != nil {
			return r, err
		}
		switch {
		case x > r.score:
			r.second, r.secondChar = r.score, r.char
			r.score, r.char, best = x, c.char, c.tpl
		case x > r.second:
			r.second, r.secondChar = x, c.char
		}
	}
	r.nothingElse = r.second < -1
	r.bar = bar{score: score, by: "given"}
	if score == 0 {
		r.bar = defaultBar(best.Contrast(), noise)
	}
	spread := deviation(s, image.Rectangle{Min: at, Max: at.Add(g.cell)})
	share := r.score * spread / best.Contrast() // of the glyph's contrast that is there
	where := "the cell at " + point(at)
	if g.blank {
		// A blank has no contrast but that of noise.
		if r.score < r.bar.score && spread <= math.Hypot(faintest/2*g.faint, 1.5*noise) {
			r.char, r.score, r.second, r.sure, r.nothingElse = ' ', 1, 0, true, true
			return r, nil
		}
		if r.score >= r.bar.score && share < faintest {
			r.why = fmt.Sprintf("%s shows %q with %.0f %% of its contrast, too faint to be told from a blank", where, r.char, 100*share)
			return r, nil
		}
	}
	switch {
	case r.score < r.bar.score:
		r.why = fmt.Sprintf("%s fits no glyph: the best is %q with %.3f, below %.3f", where, r.char, r.score, r.bar.score)
	case !r.nothingElse && !apartBy(r.score, r.second, best.Used(), len(g.glyphs)-1):
		r.why = fmt.Sprintf("%s fits %q with %.3f and %q with %.3f, too near to tell", where, r.char, r.score, r.secondChar, r.second)
	default:
		r.sure = true
	}
	return r, nil
}

// deviation is the standard deviation of luma in a part of the screen.
func deviation(s *screen.Screen, in image.Rectangle) float64 {
	var sum, squares, n float64
	for y := in.Min.Y; y < in.Max.Y; y++ {
		for _, v := range s.Y[y*s.W+in.Min.X : y*s.W+in.Max.X] {
			f := float64(v)
			sum, squares, n = sum+f, squares+f*f, n+1
		}
	}
	return math.Sqrt(max(0, squares/n-sum/n*(sum/n)))
}
