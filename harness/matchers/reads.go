package matchers

import (
	"errors"
	"fmt"
	"image"

	"latchproof/harness/checks"
	"latchproof/vision/screen"
)

// ReadMatcher asks what digits or letters stand on a screen.
type ReadMatcher struct {
	sheet, characters string
	cell              image.Point
	what              checks.Reading
	onScreen
}

// ReadNumber succeeds when the digits on the screen are that number. By, At and
// Digits say how it is read.
func ReadNumber(n int64) *ReadMatcher {
	return &ReadMatcher{characters: checks.DefaultCharacters, what: checks.Reading{Equals: &n, Digits: 1}}
}

// ReadNumberFrom succeeds when the digits on the screen are a number from least
// to most.
func ReadNumberFrom(least, most int64) *ReadMatcher {
	return &ReadMatcher{characters: checks.DefaultCharacters, what: checks.Reading{AtLeast: &least, AtMost: &most, Digits: 1}}
}

// ReadText succeeds when the characters on the screen are that text, blanks
// included. By and At say how it is read; as many characters are read as the
// text has.
func ReadText(text string) *ReadMatcher {
	return &ReadMatcher{characters: checks.DefaultCharacters, what: checks.Reading{Text: &text, Digits: len([]rune(text))}}
}

// By names the PNG file of the sheet of glyphs: one cell for each character.
func (m *ReadMatcher) By(file string) *ReadMatcher { m.sheet = file; return m }

// Characters says what the cells of the sheet are, in rows from the top left.
// The default is 0123456789; a space is a blank cell.
func (m *ReadMatcher) Characters(all string) *ReadMatcher { m.characters = all; return m }

// Cell is the size of a cell in pixels. The default is the width of the sheet
// shared among the characters, and its height.
func (m *ReadMatcher) Cell(w, h int) *ReadMatcher { m.cell = image.Pt(w, h); return m }

// At is the top left pixel of the first character's cell on the raster.
func (m *ReadMatcher) At(x, y int) *ReadMatcher { m.what.At = image.Pt(x, y); return m }

// Digits is how many characters are read.
func (m *ReadMatcher) Digits(n int) *ReadMatcher { m.what.Digits = n; return m }

// Pitch is how many pixels lie from one character to the next. The default is
// the width of a cell.
func (m *ReadMatcher) Pitch(n int) *ReadMatcher { m.what.Pitch = n; return m }

// Scoring sets the threshold of every character's score, 0..1. Without it, it
// follows from the noise of the screen.
func (m *ReadMatcher) Scoring(threshold float64) *ReadMatcher { m.what.Score = threshold; return m }

// Match implements the library's matcher. actual is a *screen.Screen. A screen
// that cannot be read for certain is an error (checks.ErrUnsure).
func (m *ReadMatcher) Match(actual any) (bool, error) {
	if m.sheet == "" {
		return false, errors.New("no sheet of glyphs: name one with By")
	}
	pic, alpha, err := screen.LoadPNG(m.sheet)
	if err != nil {
		return false, err
	}
	g, err := checks.NewGlyphs(pic, alpha, m.characters, m.cell)
	if err != nil {
		return false, fmt.Errorf("%s: %w", m.sheet, err)
	}
	m.check = checks.NewReads(g, m.what)
	return m.onScreen.Match(actual)
}
