package checks

import (
	"latchproof/specs"
	"latchproof/vision"
	"latchproof/vision/screen"
)

// Hides is the kind `hides`: a template does not stand on the screen.
type Hides struct{}

// Key is "hides".
func (Hides) Key() string { return "hides" }

// Schema describes the value.
func (Hides) Schema() map[string]any {
	return targetSchema("A template that must not stand on the screen.")
}

// Decode reads the value.
func (Hides) Decode(v *specs.Value) any {
	if t := readTarget(v); t != nil {
		return &hides{t}
	}
	return nil
}

// EventKey is "gone": the frame in which the template is there no longer.
func (Hides) EventKey() string { return "gone" }

// EventSchema describes the value there.
func (Hides) EventSchema() map[string]any {
	return eventSchema("The frame in which a template is there no longer: its name, or a mapping as of the checkpoint `shows`.")
}

// DecodeEvent reads the value there.
func (Hides) DecodeEvent(v *specs.Value) any {
	if t := readEvent(v); t != nil {
		return &hides{t}
	}
	return nil
}

// NewHides is the check without a spec, for screens of any size. place nil means
// anywhere; score is the threshold, 0 the default for the noise of the screen.
func NewHides(t *vision.Template, place *Place, score float64) Check {
	return &hides{newTarget(t, place, score)}
}

// hides holds when the best score of the places allowed is below the
// threshold.
type hides struct{ *target }

func (*hides) Kind() string { return "hides" }

func (c *hides) Look(s *screen.Screen) (Sight, error) {
	sight, err := c.look(s)
	sight.Holds = err == nil && !sight.Found && !sight.Unsure
	return sight, err
}

// Explain is Look: the place that breaks the check is already known.
func (c *hides) Explain(s *screen.Screen) (Sight, error) { return c.Look(s) }

func (c *hides) Describe() string {
	return "hides " + c.describe() + ": every score below " + c.wants("")
}
