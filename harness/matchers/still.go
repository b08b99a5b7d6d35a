package matchers

import (
	"errors"
	"fmt"
	"image"

	"latchproof/harness/checks"
	"latchproof/vision/screen"
)

// StillMatcher asks whether pictures are the same.
type StillMatcher struct {
	ignore []image.Rectangle
	check  checks.Series
	number int // of the picture that decided
	sight  checks.Sight
}

// StandStill succeeds when all of several screens, in order, show the picture of
// the first one, but for noise, brightness and contrast.
func StandStill() *StillMatcher { return &StillMatcher{} }

// Ignoring leaves parts of the raster out.
func (m *StillMatcher) Ignoring(parts ...image.Rectangle) *StillMatcher {
	m.ignore = append(m.ignore, parts...)
	return m
}

// Match implements the library's matcher. actual is a []*screen.Screen of two or
// more.
func (m *StillMatcher) Match(actual any) (bool, error) {
	screens, ok := actual.([]*screen.Screen)
	if !ok {
		return false, fmt.Errorf("StandStill wants a []*screen.Screen, not %T", actual)
	}
	if len(screens) < 2 {
		return false, errors.New("StandStill wants two screens or more")
	}
	m.check = checks.NewStill(0, m.ignore...)
	watch := m.check.Begin()
	for i, s := range screens {
		if s.W != screens[0].W || s.H != screens[0].H {
			return false, fmt.Errorf("%w: screen %d is %dx%d, the first %dx%d", checks.ErrRaster, i, s.W, s.H, screens[0].W, screens[0].H)
		}
		var err error
		if m.sight, err = watch.Look(int64(i), s); err != nil {
			return false, err
		}
		if m.number = i; !m.sight.Holds {
			return false, nil
		}
	}
	return true, nil
}

// FailureMessage implements the library's matcher.
func (m *StillMatcher) FailureMessage(any) string {
	return fmt.Sprintf("%s: screen %d %s", m.check.Describe(), m.number, m.sight.Why)
}

// NegatedFailureMessage implements the library's matcher.
func (m *StillMatcher) NegatedFailureMessage(any) string {
	return fmt.Sprintf("%s in all %d screens, and should not", m.check.Describe(), m.number+1)
}
