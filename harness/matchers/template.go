package matchers

import (
	"fmt"
	"image"

	"latchproof/harness/checks"
	"latchproof/vision"
)

// TemplateMatcher asks whether a template stands on a screen.
type TemplateMatcher struct {
	file  string
	hides bool
	place *checks.Place
	score float64
	onScreen
}

// ShowTemplate succeeds when the template of that PNG file stands on the
// screen.
func ShowTemplate(file string) *TemplateMatcher {
	return &TemplateMatcher{file: file}
}

// HideTemplate succeeds when the template of that PNG file does not stand on
// the screen.
func HideTemplate(file string) *TemplateMatcher {
	return &TemplateMatcher{file: file, hides: true}
}

// Near wants the template's top left pixel at (x, y) of the raster.
func (m *TemplateMatcher) Near(x, y int) *TemplateMatcher {
	within := 0
	if m.place != nil {
		within = m.place.Within
	}
	m.place = &checks.Place{Near: image.Pt(x, y), Within: within}
	return m
}

// Within lets the place differ from Near by n pixels in x and in y. It means
// nothing without Near.
func (m *TemplateMatcher) Within(n int) *TemplateMatcher {
	if m.place != nil {
		m.place.Within = n
	}
	return m
}

// Scoring sets the threshold of the score, 0..1. Without it, it follows from the
// noise of the screen.
func (m *TemplateMatcher) Scoring(threshold float64) *TemplateMatcher {
	m.score = threshold
	return m
}

// Match implements the library's matcher. actual is a *screen.Screen.
func (m *TemplateMatcher) Match(actual any) (bool, error) {
	t, err := vision.LoadTemplate(m.file)
	if err != nil {
		return false, err
	}
	m.check = checks.NewShows(t, m.place, m.score)
	if m.hides {
		m.check = checks.NewHides(t, m.place, m.score)
	}
	ok, err := m.onScreen.Match(actual)
	if err != nil {
		err = fmt.Errorf("%s: %w", m.file, err)
	}
	return ok, err
}
