package matchers

import (
	"image"

	"latchproof/harness/checks"
	"latchproof/vision/screen"
)

// ScreenMatcher asks whether a screen is a reference picture.
type ScreenMatcher struct {
	file   string
	ignore []image.Rectangle
	onScreen
}

// LookLike succeeds when the whole screen is the picture of that PNG file, but
// for noise, brightness and contrast. The picture has the size of the screen.
func LookLike(file string) *ScreenMatcher { return &ScreenMatcher{file: file} }

// Ignoring leaves parts of the raster out.
func (m *ScreenMatcher) Ignoring(parts ...image.Rectangle) *ScreenMatcher {
	m.ignore = append(m.ignore, parts...)
	return m
}

// Match implements the library's matcher. actual is a *screen.Screen.
func (m *ScreenMatcher) Match(actual any) (bool, error) {
	pic, _, err := screen.LoadPNG(m.file)
	if err != nil {
		return false, err
	}
	m.check = checks.NewScreen(pic, m.ignore...)
	return m.onScreen.Match(actual)
}
