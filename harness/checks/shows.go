package checks

import (
	"latchproof/specs"
	"latchproof/vision"
	"latchproof/vision/screen"
)

// Shows is the kind `shows`: a template stands on the screen.
type Shows struct{}

// Key is "shows".
func (Shows) Key() string { return "shows" }

// Schema describes the value.
func (Shows) Schema() map[string]any {
	return targetSchema("A template that must stand on the screen.")
}

// Decode reads the value.
func (Shows) Decode(v *specs.Value) any {
	if t := readTarget(v); t != nil {
		return &shows{t}
	}
	return nil
}

// EventKey is "shows": the frame in which the template appears.
func (Shows) EventKey() string { return "shows" }

// EventSchema describes the value there.
func (Shows) EventSchema() map[string]any {
	return eventSchema("The frame in which a template appears: its name, or a mapping as of the checkpoint `shows`.")
}

// DecodeEvent reads the value there.
func (Shows) DecodeEvent(v *specs.Value) any {
	if t := readEvent(v); t != nil {
		return &shows{t}
	}
	return nil
}

// NewShows is the check without a spec, for screens of any size. place nil means
// anywhere; score is the threshold, 0 the default for the noise of the screen.
func NewShows(t *vision.Template, place *Place, score float64) Check {
	return &shows{newTarget(t, place, score)}
}

// shows holds when the best score of the places allowed is at or above the
// threshold.
type shows struct{ *target }

func (*shows) Kind() string { return "shows" }

func (c *shows) Look(s *screen.Screen) (Sight, error) {
	sight, err := c.look(s)
	sight.Holds = err == nil && sight.Found
	return sight, err
}

// Explain adds where the template stands best on the whole screen.
func (c *shows) Explain(s *screen.Screen) (Sight, error) {
	sight, err := c.Look(s)
	if err != nil || sight.Holds {
		return sight, err
	}
	return c.searchAll(s, sight)
}

func (c *shows) Describe() string {
	return "shows " + c.describe() + " with a score of " + c.wants(" or more")
}
