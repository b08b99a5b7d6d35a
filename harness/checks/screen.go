package checks

import (
	"fmt"
	"image"
	"path/filepath"
	"strings"

	"latchproof/specs"
	"latchproof/vision/screen"
)

// Screen is the kind `screen`: the whole screen is a reference picture.
type Screen struct{}

// Key is "screen".
func (Screen) Key() string { return "screen" }

var screenFields = specs.Mapping[*whole]{
	Start: func(specs.Pos) *whole { return &whole{} },
	Fields: []specs.Field[*whole]{
		specs.Key[*whole, string]("reference", specs.Path{Says: "a PNG inside the spec's folder, such as lamp-lit.png"},
			"PNG inside the spec's folder, of the size of the raster, best taken from a run on the same bench.",
			func(w **whole, x string, at specs.Pos) { (*w).name, (*w).namePos = pngName(x), at }).Need(),
		ignoreKey(func(w **whole, x []region) { (*w).ignore = x }),
	},
}

// Schema describes the value.
func (Screen) Schema() map[string]any {
	s := screenFields.Schema()
	s["description"] = "The whole screen is the reference picture, but for noise and the regions ignored."
	return s
}

// Decode reads the value.
func (Screen) Decode(v *specs.Value) any {
	w, ok := screenFields.Read(v)
	if !ok {
		return nil
	}
	return w
}

// NewScreen is the check without a spec, for screens of the size of the
// reference.
func NewScreen(reference *screen.Screen, ignore ...image.Rectangle) Check {
	w := &whole{file: file{name: "the reference", ready: true}, test: newBlockTest(reference, ignore)}
	for _, r := range ignore {
		w.ignore = append(w.ignore, region{Rectangle: r})
	}
	return w
}

// whole holds when no block differs from the reference.
type whole struct {
	file   // the reference
	ignore []region
	test   *blockTest
}

func (*whole) Kind() string { return "screen" }

// Prepare reads the reference.
func (w *whole) Prepare() error {
	return w.prepareBy(w.prepare)
}

func (w *whole) prepare() error {
	width, height := w.env.Console.Width, w.env.Console.Height
	if width == 0 {
		return nil // what the profile lacks is told elsewhere
	}
	pic, _, err := readPicture(w.env.Folder, w.name, func(x, y int) error {
		if x != width || y != height {
			return fmt.Errorf("%w: it is %dx%d, want %dx%d", ErrRaster, x, y, width, height)
		}
		return nil
	})
	if err != nil {
		return specs.ErrorList{w.namePos.Errorf("%s: %w", w.name, err)}
	}
	if err := inside(w.ignore, width, height); err != nil {
		return err
	}
	test := newBlockTest(pic, rectangles(w.ignore))
	if test.blocks == 0 {
		return specs.ErrorList{w.namePos.Errorf("%s: everything is ignored", w.name)}
	}
	w.test = test
	return nil
}

func (w *whole) Look(s *screen.Screen) (Sight, error) {
	if w.test == nil {
		return Sight{}, ErrNotPrepared
	}
	if want := w.test.layout; s.W != want.W || s.H != want.H {
		return Sight{}, fmt.Errorf("%w: %dx%d, want %dx%d", ErrRaster, s.W, s.H, want.W, want.H)
	}
	return w.test.compare(s).sight(w.label()), nil
}

// Explain is Look.
func (w *whole) Explain(s *screen.Screen) (Sight, error) { return w.Look(s) }

func (w *whole) label() string { return strings.TrimSuffix(filepath.Base(w.name), ".png") }

func (w *whole) Describe() string {
	out := "the whole screen is " + w.label()
	if len(w.ignore) > 0 {
		out += ", but for " + count(len(w.ignore), "region")
	}
	return out
}
