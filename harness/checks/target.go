package checks

import (
	"fmt"
	"image"
	"path/filepath"
	"strconv"
	"strings"

	"latchproof/specs"
	"latchproof/vision"
	"latchproof/vision/screen"
)

const (
	maxSide        = 4096    // pixels, of a place or a template
	maxTemplatePNG = 4 << 20 // bytes
)

// target is a template, where it is looked for, and the threshold: what shows
// and hides have in common.
type target struct {
	file   // the template
	near   *image.Point
	within int
	score  float64

	nearPos specs.Pos

	template *vision.Template
	in       image.Rectangle // places allowed; empty is everywhere
}

// targetFields says what the keys are. The fields fill a target's pointer so
// that its lock is never copied.
var targetFields = specs.Mapping[*target]{
	Start:  func(specs.Pos) *target { return &target{} },
	Fields: targetKeys(func(t *target) *target { return t }),
	Finish: func(_ **target, _ *specs.Value, have func(string) (*specs.Value, bool)) { withinNear(have) },
	Extra:  withinNearRule,
}

// targetKeys are the keys of a mapping with a target in it.
func targetKeys[S any](of func(S) *target) []specs.Field[S] {
	return []specs.Field[S]{
		specs.Key[S, string]("template", templatePath,
			"PNG inside the spec's folder, with or without `.png`; its alpha channel is a mask.",
			func(s *S, x string, at specs.Pos) { of(*s).setName(x, at) }).Need(),
		specs.Key[S, image.Point]("near", placeShape,
			"[x, y] in raster pixels: where the template's top left pixel is expected. Default: anywhere.",
			func(s *S, x image.Point, at specs.Pos) { of(*s).near, of(*s).nearPos = &x, at }),
		specs.Key[S, int64]("within", specs.Int{Min: 0, Max: maxSide - 1},
			"Raster pixels, only with `near`: how far the place may be from it, in x and in y.",
			func(s *S, x int64, _ specs.Pos) { of(*s).within = int(x) }).Else(0),
		specs.Key[S, float64]("score", specs.Number{Min: 0.1, Max: 1},
			"Threshold of the score, 0.1 to 1. At or above it the template is there. Default: 0.9 in a picture without noise, less by what the noise of the picture takes from the score.",
			func(s *S, x float64, _ specs.Pos) { of(*s).score = x }),
	}
}

var templatePath = specs.Path{Says: "a PNG inside the spec's folder, such as gate or art/gate.png"}

// withinNear reports a within without near.
func withinNear(have func(string) (*specs.Value, bool)) {
	within, ok := have("within")
	if _, also := have("near"); ok && !also {
		within.Fail("only together with near")
	}
}

var withinNearRule = map[string]any{"dependentRequired": map[string]any{"within": []string{"near"}}}

func (t *target) setName(x string, at specs.Pos) { t.name, t.namePos = pngName(x), at }

// pngName is the name of a picture with its ending.
func pngName(x string) string {
	if !strings.HasSuffix(x, ".png") {
		x += ".png"
	}
	return x
}

func targetSchema(about string) map[string]any {
	s := targetFields.Schema()
	s["description"] = about
	return s
}

func readTarget(v *specs.Value) *target {
	t, ok := targetFields.Read(v)
	if !ok {
		return nil
	}
	return t
}

// Place is where a template may stand: its top left pixel at most Within raster
// pixels from Near, in x and in y.
type Place struct {
	Near   image.Point
	Within int
}

// newTarget makes a target without a spec. It takes screens of any size. A
// score of 0 is the default for the noise of the screen.
func newTarget(tpl *vision.Template, place *Place, score float64) *target {
	t := &target{file: file{name: filepath.ToSlash(tpl.Name()), ready: true}, score: score, template: tpl}
	if t.name == "" {
		t.name = "template"
	}
	if place != nil {
		t.near, t.within = &place.Near, place.Within
		t.in = t.places()
	}
	return t
}

// places are the places allowed around near.
func (t *target) places() image.Rectangle {
	return image.Rect(t.near.X-t.within, t.near.Y-t.within, t.near.X+t.within+1, t.near.Y+t.within+1)
}

// Prepare reads the template.
func (t *target) Prepare() error {
	return t.prepareBy(t.prepare)
}

func (t *target) prepare() error {
	w, h := t.env.Console.Width, t.env.Console.Height
	raster := w > 0 && h > 0 // the profile could be read
	if !raster {
		w, h = maxSide, maxSide
	}
	tpl, err := readTemplate(t.env.Folder, t.name, w, h)
	if err != nil {
		return specs.ErrorList{t.namePos.Errorf("%s: %w", t.name, err)}
	}
	if t.near != nil {
		t.in = t.places().Intersect(image.Rect(0, 0, w-tpl.Size().X+1, h-tpl.Size().Y+1))
		if t.in.Empty() && raster {
			return specs.ErrorList{t.nearPos.Errorf("%s is %dx%d and cannot stand within %d px of (%d, %d) on a raster of %dx%d",
				t.name, tpl.Size().X, tpl.Size().Y, t.within, t.near.X, t.near.Y, w, h)}
		}
	}
	t.template = tpl
	return nil
}

// look finds the best score of the places allowed.
func (t *target) look(s *screen.Screen) (Sight, error) {
	if t.template == nil {
		return Sight{}, ErrNotPrepared
	}
	if w, h := t.env.Console.Width, t.env.Console.Height; w > 0 && (s.W != w || s.H != h) {
		return Sight{}, fmt.Errorf("%w: %dx%d, want %dx%d", ErrRaster, s.W, s.H, w, h)
	}
	f := finding{bar: barFor(t.score, t.template.Contrast(), s), target: t, s: s}
	if err := f.find(); err != nil {
		return Sight{}, err
	}
	bar := f.bar
	sight := Sight{Threshold: f.threshold, By: bar.by, Noise: bar.noise, Size: t.template.Size(), At: f.at, Score: f.score, Found: f.found}
	where := "on the screen"
	if t.near != nil {
		where = t.place()
	}
	score, threshold := apart(sight.Score, sight.Threshold)
	if t.score == 0 && sight.Threshold < DefaultScore-0.0005 {
		threshold += fmt.Sprintf(" (noise %.1f, contrast %.0f)", bar.noise, t.template.Contrast())
	}
	switch {
	case f.found:
		sight.Seen = fmt.Sprintf("%s at %s", t.label(), point(sight.At))
		sight.Why = fmt.Sprintf("score %s at %s, threshold %s", score, point(sight.At), threshold)
	case bar.drowned:
		sight.Unsure = true
		sight.Why = fmt.Sprintf("cannot tell: a noise of %.1f levels drowns %s, whose contrast is %.0f levels; best score %s is %s at %s",
			bar.noise, t.label(), t.template.Contrast(), where, score, point(sight.At))
	case f.many:
		sight.Unsure = true
		sight.Why = fmt.Sprintf("cannot tell: in a noise of %.1f levels more than %d places look like %s, the best with %s at %s; give `near` and `within`, or a score",
			bar.noise, mostLookalikes, t.label(), score, point(sight.At))
	default:
		sight.Why = fmt.Sprintf("best score %s is %s at %s, below %s", where, score, point(sight.At), threshold)
	}
	return sight, nil
}

// searchAll adds the best place anywhere to a sight.
func (t *target) searchAll(s *screen.Screen, sight Sight) (Sight, error) {
	sight.Best, sight.BestAt, sight.Searched = sight.Score, sight.At, true
	if t.near == nil {
		return sight, nil
	}
	m, err := t.template.Match(s, image.Rectangle{})
	if err != nil {
		return Sight{}, err
	}
	sight.Best, sight.BestAt = m.Score, m.At
	if m.Score <= sight.Score {
		sight.BestAt = sight.At
		sight.Why += "; no place on the screen is better"
		return sight, nil
	}
	score, _ := apart(m.Score, sight.Threshold)
	sight.Why += fmt.Sprintf("; best on the screen is %s at %s, %d px from %s", score, point(m.At), chebyshev(m.At, *t.near), point(*t.near))
	if m.Score >= t.thresholdAt(s, m.At, sight.Noise) {
		sight.Seen = fmt.Sprintf("%s at %s", t.label(), point(m.At))
	}
	return sight, nil
}

// Label is the template's name without folder and ending.
func (t *target) Label() string { return t.label() }

// label is the template's name without folder and ending.
func (t *target) label() string {
	return strings.TrimSuffix(t.name[strings.LastIndexByte(t.name, '/')+1:], ".png")
}

func (t *target) place() string {
	if t.within == 0 {
		return "at " + point(*t.near)
	}
	return fmt.Sprintf("within %d px of %s", t.within, point(*t.near))
}

func (t *target) describe() string {
	if t.near == nil {
		return t.label() + " anywhere"
	}
	return t.label() + " " + t.place()
}

// wants is the threshold in words, followed by more.
func (t *target) wants(more string) string {
	if t.score == 0 {
		return number(DefaultScore) + more + " (lower in noise)"
	}
	return number(t.score) + more
}

// chebyshev is the larger of the distances in x and in y.
func chebyshev(a, b image.Point) int {
	d := a.Sub(b)
	return max(d.X, -d.X, d.Y, -d.Y)
}

func point(p image.Point) string { return fmt.Sprintf("(%d, %d)", p.X, p.Y) }

func number(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

// apart formats two numbers with three decimals, or with as many as it takes
// to tell them apart when they differ.
func apart(a, b float64) (string, string) {
	for digits := 3; digits < 15; digits++ {
		x, y := strconv.FormatFloat(a, 'f', digits, 64), strconv.FormatFloat(b, 'f', digits, 64)
		if x != y || a == b {
			return x, y
		}
	}
	return number(a), number(b)
}
