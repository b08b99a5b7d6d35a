package checks

import (
	"fmt"
	"image"

	"latchproof/specs"
	"latchproof/vision/screen"
)

// Still is the kind `still`: the picture does not change over a range.
type Still struct{}

// Key is "still".
func (Still) Key() string { return "still" }

// Series marks that it judges the range together.
func (Still) Series() {}

var stillFields = specs.Mapping[*still]{
	Start: func(specs.Pos) *still { return &still{} },
	Fields: []specs.Field[*still]{
		ignoreKey(func(c **still, x []region) { (*c).ignore = x }),
		specs.Key[*still, int64]("for", specs.Int{Min: 2, Max: specs.MaxFrame},
			"Frames: somewhere in the range it stands still for so many frames. Default: over the whole range.",
			func(c **still, x int64, _ specs.Pos) { (*c).frames = x }),
	},
}

// Schema describes the value.
func (Still) Schema() map[string]any {
	return map[string]any{
		"description": "The picture does not change over the frames of the range: `true`, or a mapping.",
		"oneOf":       []any{specs.True{}.Schema(), stillFields.Schema()},
	}
}

// Decode reads the value.
func (Still) Decode(v *specs.Value) any {
	c, ok := &still{}, false
	if v.IsMapping() {
		c, ok = stillFields.Read(v)
	} else {
		_, ok = specs.True{}.Read(v)
	}
	if !ok {
		return nil
	}
	if u, given := v.Beside("unseen"); given && c.frames > 0 {
		u.Fail("not together with `for`: what is unseen never counts as still")
		return nil
	}
	return c
}

// NewStill is the check without a spec. frames 0 is the whole range.
func NewStill(frames int64, ignore ...image.Rectangle) Series {
	c := &still{frames: frames, ready: true}
	for _, r := range ignore {
		c.ignore = append(c.ignore, region{Rectangle: r})
	}
	return c
}

// still holds while the picture is the first one.
type still struct {
	ignore []region
	frames int64
	ready  bool
	env    specs.Env
}

func (*still) Kind() string { return "still" }

func (c *still) Bind(env specs.Env) { c.env = env }

// Prepare holds the regions against the raster.
func (c *still) Prepare() error {
	w, h := c.env.Console.Width, c.env.Console.Height
	if c.ready || w == 0 {
		return nil
	}
	if err := inside(c.ignore, w, h); err != nil {
		return err
	}
	if len(c.ignore) > 0 && newBlockTest(screen.New(w, h), rectangles(c.ignore)).blocks == 0 {
		return specs.ErrorList{c.ignore[0].pos.Errorf("everything is ignored")}
	}
	return nil
}

func (*still) Templates() []string { return nil }

// Look cannot tell from one picture.
func (*still) Look(*screen.Screen) (Sight, error) {
	return Sight{Unsure: true, Threshold: 1, Why: "one picture does not tell whether it changes"}, nil
}

// Explain is Look.
func (c *still) Explain(s *screen.Screen) (Sight, error) { return c.Look(s) }

func (c *still) Describe() string {
	out := "the picture stands still"
	if c.frames > 0 {
		out += fmt.Sprintf(" for %d frames", c.frames)
	}
	if len(c.ignore) > 0 {
		out += ", but for " + count(len(c.ignore), "region")
	}
	return out
}

// Every says whether the whole range must be still.
func (c *still) Every() bool { return c.frames == 0 }

// Begin begins a run.
func (c *still) Begin() Watch { return &stillness{still: c} }

// stillness is still in one run.
type stillness struct {
	*still
	test  *blockTest
	since int64 // frame of the first picture
}

func (c *stillness) Look(frame int64, s *screen.Screen) (Sight, error) {
	if w, h := c.env.Console.Width, c.env.Console.Height; w > 0 && (s.W != w || s.H != h) {
		return Sight{}, fmt.Errorf("%w: %dx%d, want %dx%d", ErrRaster, s.W, s.H, w, h)
	}
	first := func() {
		c.test, c.since = newBlockTest(s, rectangles(c.ignore)), frame
	}
	if c.test == nil {
		first()
		sight := Sight{Holds: c.frames == 0, Threshold: 1, Why: fmt.Sprintf("frame %d is the first picture", frame)}
		return sight, nil
	}
	since := c.since
	sight := c.test.compare(s).sight(fmt.Sprintf("frame %d", since))
	if c.frames == 0 {
		return sight, nil
	}
	if !sight.Holds {
		first()
		return sight, nil
	}
	stood := frame - since + 1
	sight.Value = int(stood)
	sight.Holds = stood >= c.frames
	sight.Seen = fmt.Sprintf("still for %d frames from frame %d on", stood, since)
	sight.Why = fmt.Sprintf("still for %d frames from frame %d on, %d are wanted; %s", stood, since, c.frames, sight.Why)
	return sight, nil
}
