package checks

import (
	"fmt"
	"image"
	"path/filepath"
	"strconv"
	"strings"
	"unicode"

	"latchproof/specs"
	"latchproof/vision/screen"
)

// Reads is the kind `reads`: digits or letters that stand on the screen.
type Reads struct{}

// Key is "reads".
func (Reads) Key() string { return "reads" }

var charactersShape = specs.Text{Min: 2, Max: maxGlyphs, Says: "the characters of the sheet"}

var readsFields = specs.Mapping[*reads]{
	Start: func(specs.Pos) *reads { return &reads{characters: DefaultCharacters} },
	Fields: []specs.Field[*reads]{
		specs.Key[*reads, string]("glyphs", specs.Path{Says: "a PNG inside the spec's folder, such as hud-digits"},
			"PNG inside the spec's folder, with or without `.png`: one cell for each character, all of one size, in one row or in several.",
			func(r **reads, x string, at specs.Pos) { (*r).name, (*r).namePos = pngName(x), at }).Need(),
		specs.Key[*reads, image.Point]("at", placeShape,
			"[x, y] in raster pixels: the top left pixel of the first character's cell.",
			func(r **reads, x image.Point, at specs.Pos) { (*r).at, (*r).atPos = x, at }).Need(),
		specs.Key[*reads, int64]("digits", specs.Int{Min: 1, Max: maxDigits},
			"How many characters are read.",
			func(r **reads, x int64, _ specs.Pos) { (*r).digits = int(x) }).Need(),
		specs.Key[*reads, string]("characters", charactersShape,
			"The characters of the sheet's cells, in rows from the top left. A space is a blank cell.",
			func(r **reads, x string, at specs.Pos) { (*r).characters = x }).Else(DefaultCharacters),
		specs.Key[*reads, image.Point]("cell", placeShape,
			"[width, height] of a cell in pixels. Default: the sheet's width shared among the characters, and its height.",
			func(r **reads, x image.Point, _ specs.Pos) { (*r).cell = x }),
		specs.Key[*reads, int64]("pitch", specs.Int{Min: 1, Max: maxSide - 1},
			"Pixels from one character to the next on the screen. Default: the width of a cell.",
			func(r **reads, x int64, _ specs.Pos) { (*r).pitch = int(x) }),
		specs.Key[*reads, float64]("score", specs.Number{Min: 0.1, Max: 1},
			"Threshold of the score of every character, 0.1 to 1. Default: as of `shows`.",
			func(r **reads, x float64, _ specs.Pos) { (*r).score = x }),
	},
}

// Schema describes the value.
func (Reads) Schema() map[string]any {
	s := readsFields.Schema()
	s["description"] = "Digits or letters read by a sheet of glyphs. What it must be stands beside: equals, at_least, at_most."
	return s
}

// Companions are the keys beside it.
func (Reads) Companions() map[string]map[string]any { return wantCompanions() }

// Decode reads the value.
func (Reads) Decode(v *specs.Value) any {
	r, ok := readsFields.Read(v)
	want, also := readWant(v)
	if !ok || !also {
		return nil
	}
	r.want = want
	return r
}

// Reading says what NewReads reads, and what it must be.
type Reading struct {
	At     image.Point // top left pixel of the first character's cell
	Digits int         // how many characters
	Pitch  int         // pixels from one to the next; 0: the width of a cell
	Score  float64     // threshold; 0: the default for the noise of the screen
	// Equals, AtLeast and AtMost bound the number, Text is the text; nil asks for
	// nothing.
	Equals, AtLeast, AtMost *int64
	Text                    *string
}

// NewReads is the check without a spec, for screens of any size.
func NewReads(g *Glyphs, what Reading) Check {
	r := &reads{file: file{name: "glyphs", ready: true}, at: what.At, digits: what.Digits, pitch: what.Pitch, score: what.Score,
		want: want{number: what.Equals, least: what.AtLeast, most: what.AtMost, text: what.Text}, glyphs: g}
	if r.pitch == 0 {
		r.pitch = g.cell.X
	}
	return r
}

// reads holds when every character is read for certain and they are what is
// wanted. It is unsure when one of them cannot be read.
type reads struct {
	file       // the sheet
	at         image.Point
	digits     int
	characters string
	cell       image.Point
	pitch      int
	score      float64
	want       want

	atPos specs.Pos

	glyphs *Glyphs
}

func (*reads) Kind() string { return "reads" }

// Prepare reads the sheet.
func (r *reads) Prepare() error {
	return r.prepareBy(r.prepare)
}

// maxSheet is how many pixels a sheet has at most.
const maxSheet = 1 << 20

func sheetFits(w, h int) error {
	if w > maxSheet || h > maxSheet || w*h > maxSheet {
		return fmt.Errorf("%w: %dx%d pixels, the limit is %d in all", ErrSheet, w, h, maxSheet)
	}
	return nil
}

func (r *reads) prepare() error {
	pic, alpha, err := readPicture(r.env.Folder, r.name, sheetFits)
	if err != nil {
		return specs.ErrorList{r.namePos.Errorf("%s: %w", r.name, err)}
	}
	g, err := NewGlyphs(pic, alpha, r.characters, r.cell)
	if err != nil {
		return specs.ErrorList{r.namePos.Errorf("%s: %w", r.name, err)}
	}
	g.name = r.name
	if r.pitch == 0 {
		r.pitch = g.cell.X
	}
	box := r.box(g)
	if w, h := r.env.Console.Width, r.env.Console.Height; w > 0 && !box.In(image.Rect(0, 0, w, h)) {
		return specs.ErrorList{r.atPos.Errorf("%d characters of %dx%d at %s reach over the raster of %dx%d",
			r.digits, g.cell.X, g.cell.Y, point(r.at), w, h)}
	}
	r.glyphs = g
	return nil
}

// box is the part of the raster that is read.
func (r *reads) box(g *Glyphs) image.Rectangle {
	last := r.at.Add(image.Pt((r.digits-1)*r.pitch, 0))
	return image.Rectangle{Min: r.at, Max: last.Add(g.cell)}
}

func (r *reads) Look(s *screen.Screen) (Sight, error) {
	if r.glyphs == nil {
		return Sight{}, ErrNotPrepared
	}
	box := r.box(r.glyphs)
	if w, h := r.env.Console.Width, r.env.Console.Height; w > 0 && (s.W != w || s.H != h) {
		return Sight{}, fmt.Errorf("%w: %dx%d, want %dx%d", ErrRaster, s.W, s.H, w, h)
	}
	sight := Sight{At: box.Min, Size: box.Size()}
	var noise float64
	if r.score == 0 {
		noise = Noise(s)
	}
	var text strings.Builder
	var worst, doubt *reading
	for i := range r.digits {
		c, err := r.glyphs.read(s, r.at.Add(image.Pt(i*r.pitch, 0)), r.score, noise)
		if err != nil {
			return Sight{}, err
		}
		text.WriteRune(c.char)
		if worst == nil || c.score < worst.score {
			worst = &c
		}
		if !c.sure && doubt == nil {
			doubt = &c
		}
	}
	sight.Score, sight.Threshold, sight.By, sight.Noise = worst.score, worst.bar.score, worst.bar.by, worst.bar.noise
	if doubt != nil {
		sight.Unsure = true
		sight.Score, sight.Threshold = doubt.score, doubt.bar.score
		sight.Why = "cannot be read: " + doubt.why
		return sight, nil
	}
	sight.Found = true
	number := asNumber(text.String())
	sight.Value = text.String()
	if number != nil {
		sight.Value = int(*number)
	}
	sight.Seen = fmt.Sprintf("%q", text.String())
	sight.Holds = r.want.holds(text.String(), number)
	not := ""
	if !sight.Holds {
		not = ", not " + r.want.says()
	}
	sight.Why = fmt.Sprintf("reads %q%s; worst character scores %.3f at %s, threshold %.3f", text.String(), not, worst.score, point(worst.at), worst.bar.score)
	if !worst.nothingElse {
		sight.Why += fmt.Sprintf(", next best is %q with %.3f", worst.secondChar, worst.second)
	}
	return sight, nil
}

// Explain is Look.
func (r *reads) Explain(s *screen.Screen) (Sight, error) { return r.Look(s) }

func (r *reads) Describe() string {
	return fmt.Sprintf("reads %s: %s at %s by %s", count(r.digits, "character"), r.want.says(), point(r.at), strings.TrimSuffix(filepath.Base(r.name), ".png"))
}

// asNumber is the number that a text is, blanks around it aside; nil when it is
// none.
func asNumber(text string) *int64 {
	text = strings.TrimSpace(text)
	for _, c := range text {
		if c > unicode.MaxASCII || !unicode.IsDigit(c) {
			return nil
		}
	}
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil {
		return nil
	}
	return &n
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
