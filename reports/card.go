package reports

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"
	"strings"

	xdraw "golang.org/x/image/draw"
)

// Size of the card, in pixels. Common practice for pictures that stand for a
// link, no source.
const (
	CardWidth  = 1200
	CardHeight = 630
)

const (
	cardEdge    = 48 // free at the sides
	cardPicture = 256
)

// cardPairs are the colours of the palette that meet on the card.
var cardPairs = []pair{{"ink", "paper"}, {"soft", "paper"}, {"yes", "paper"}, {"no", "paper"}, {"unknown", "paper"}, {"edge", "paper"}, {"sheet", "yes"}, {"sheet", "no"}, {"sheet", "unknown"}}

// WriteCard writes a session as a PNG picture of 1200 by 630 pixels for sharing:
// the verdict as a word, a shape and a colour, the spec, the answer in a
// sentence, how many repeats are in step, the first divergence with the pictures
// of both runs when there are such, the bench, and the date.
//
// Texts that are too long end with an ellipsis. A character that the font (Latin,
// Greek, Cyrillic) lacks is drawn as a box with its code point.
func WriteCard(w io.Writer, s Session) error {
	return png.Encode(w, drawCard(s))
}

func drawCard(s Session) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, CardWidth, CardHeight))
	ink, soft := lightColour("ink"), lightColour("soft")
	draw.Draw(img, img.Rect, image.NewUniform(lightColour("paper")), image.Point{}, draw.Src)
	l := leadOf(s)
	tone := lightColour(l.Tone.Class)
	draw.Draw(img, image.Rect(0, 0, CardWidth, 12), image.NewUniform(tone), image.Point{}, draw.Src)

	const side = 92
	const wide = CardWidth - 2*cardEdge
	drawSign(img, l.Tone.Class, cardEdge, 44, side, tone, lightColour("sheet"))
	word := l.Tone.Word
	if r := []rune(word); len(r) > 0 {
		word = strings.ToUpper(string(r[:1])) + string(r[1:])
	}
	x := cardEdge + side + 28
	used := newPen(bold(), 76, tone).line(img, x, 116, wide-side-28, plain(word, longName))
	if name := cardName(s, l); name != "" {
		if at := x + used + 32; CardWidth-cardEdge-at > 160 {
			newPen(bold(), 34, ink).line(img, at, 116, CardWidth-cardEdge-at, name)
		}
	}

	a, b, d := cardPictures(s)
	most, size := 4, 36.0
	if a != nil || b != nil {
		most, size = 3, 30
	}
	y := newPen(regular(), size, ink).paragraph(img, cardEdge, 190, wide, most, plain(l.Sentence, longSentence))
	top := max(y-16, 320)
	if a != nil || b != nil {
		top = 290
		cardShot(img, a, d.Region, cardEdge, top, cardShotName(d.A, d.Frame), soft)
		cardShot(img, b, d.Region, cardEdge+cardPicture+16, top, cardShotName(d.B, d.Frame), soft)
		x = cardEdge + 2*cardPicture + 16 + 40
	} else {
		x = cardEdge
	}
	cardFacts(img, cardFactsOf(s, l, d), x, top, soft, ink)

	draw.Draw(img, image.Rect(cardEdge, 580, CardWidth-cardEdge, 581), image.NewUniform(lightColour("edge")), image.Point{}, draw.Src)
	foot := newPen(regular(), 22, soft)
	date := moment(s.Made)
	right := foot.width(date)
	foot.line(img, CardWidth-cardEdge-right, 610, right+1, date)
	foot.line(img, cardEdge, 610, wide-right-40, cardBench(s))
	return img
}

func lightColour(name string) color.Color {
	for _, c := range palette {
		if c.name == name {
			var r, g, b uint8
			_, _ = fmt.Sscanf(c.light, "#%02x%02x%02x", &r, &g, &b)
			return color.RGBA{r, g, b, 255}
		}
	}
	return color.Black
}

func cardName(s Session, l lead) string {
	if l.Spec >= 0 {
		return plain(s.Specs[l.Spec].Name, longName)
	}
	if s.Baseline != nil && len(s.Baseline.Specs) == 1 {
		return plain(s.Baseline.Specs[0].Name, longName)
	}
	return plain(s.Title, longName)
}

// cardBench is the bench in a line; a simulated one says so first.
func cardBench(s Session) string {
	name := plain(s.Bench.Name, longName)
	version := ""
	if s.Version != "" {
		version = " · latchproof " + plain(s.Version, shortName)
	}
	switch {
	case s.Bench.Simulated && name != "":
		return "Simulated bench: " + name + version
	case s.Bench.Simulated:
		return "Simulated bench" + version
	case name != "":
		return "Bench: " + name + version
	}
	return strings.TrimPrefix(version, " · ")
}

// cardPictures are the two pictures of the first divergence and that divergence.
func cardPictures(s Session) (a, b image.Image, d *Divergence) {
	if _, d = parted(s); d == nil {
		return nil, nil, nil
	}
	return decoded(d.PictureA), decoded(d.PictureB), d
}

// cardShotName has the frame first, so that a long name does not cut it off.
func cardShotName(run string, frame int64) string {
	return "frame " + count(frame) + ", " + plain(run, longName)
}

// cardShot draws a picture into its square, by whole pixels when it fits, with an
// outline around the place that differs, and its name below.
func cardShot(dst *image.RGBA, p image.Image, region *[4]int, x, y int, name string, soft color.Color) {
	box := image.Rect(x, y, x+cardPicture, y+240)
	edge := image.NewUniform(lightColour("edge"))
	draw.Draw(dst, box.Inset(-1), edge, image.Point{}, draw.Src)
	pen := newPen(regular(), 20, soft)
	pen.line(dst, x, y+240+26, cardPicture, name)
	if p == nil {
		draw.Draw(dst, box, image.NewUniform(lightColour("paper")), image.Point{}, draw.Src)
		pen.line(dst, x+16, y+126, cardPicture-32, "no picture of this frame")
		return
	}
	size := p.Bounds().Size()
	scale := min(float64(box.Dx())/float64(size.X), float64(box.Dy())/float64(size.Y))
	scaler := xdraw.Scaler(xdraw.CatmullRom)
	if scale >= 1 {
		scale, scaler = float64(int(scale)), xdraw.NearestNeighbor
	}
	w, h := max(int(float64(size.X)*scale), 1), max(int(float64(size.Y)*scale), 1)
	at := image.Rect(0, 0, w, h).Add(box.Min).Add(image.Pt((box.Dx()-w)/2, (box.Dy()-h)/2))
	draw.Draw(dst, box, image.NewUniform(color.Black), image.Point{}, draw.Src)
	scaler.Scale(dst, at, p, p.Bounds(), xdraw.Src, nil)
	if region == nil {
		return
	}
	r := image.Rect(region[0], region[1], region[0]+region[2], region[1]+region[3]).Intersect(image.Rect(0, 0, size.X, size.Y))
	if r.Empty() {
		return
	}
	place := image.Rect(int(float64(r.Min.X)*scale), int(float64(r.Min.Y)*scale), int(float64(r.Max.X)*scale+0.5), int(float64(r.Max.Y)*scale+0.5)).Add(at.Min)
	// As on the page: yellow in black, so that one of the two shows on any picture.
	for i, c := range []color.Color{color.Black, color.RGBA{0xff, 0xd4, 0, 255}, color.RGBA{0xff, 0xd4, 0, 255}, color.Black} {
		outline(dst, place.Inset(i-5), box, c)
	}
}

// outline draws the border of r, one pixel wide, inside of within.
func outline(dst *image.RGBA, r, within image.Rectangle, c color.Color) {
	for x := r.Min.X; x < r.Max.X; x++ {
		for _, p := range []image.Point{{x, r.Min.Y}, {x, r.Max.Y - 1}} {
			if p.In(within) {
				dst.Set(p.X, p.Y, c)
			}
		}
	}
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for _, p := range []image.Point{{r.Min.X, y}, {r.Max.X - 1, y}} {
			if p.In(within) {
				dst.Set(p.X, p.Y, c)
			}
		}
	}
}

// cardFactsOf are the facts of the card, the most important first.
func cardFactsOf(s Session, l lead, d *Divergence) (out []fact) {
	switch {
	case s.Soak != nil:
		out = append(out, fact{Term: "In lockstep with the first", Value: count(s.Soak.Clean) + " of " + count(s.Soak.Clean+s.Soak.Parted)}, fact{Term: "Claim", Value: s.Soak.Claim})
	case l.Spec >= 0:
		out = append(out, fact{Term: "Repeats in lockstep", Value: inStep(s.Specs[l.Spec].Lockstep)})
	}
	for _, b := range baselineSpecs(s) {
		out = append(out, fact{Term: b.Name, Value: toned(b.Verdict).Word})
	}
	if d != nil {
		out = append(out, fact{Term: "First divergent frame", Value: count(d.Frame) + " (" + d.Kind + ")"})
		if p := points[d.Part]; p != "" {
			out = append(out, fact{Term: "Points to", Value: p})
		}
	}
	if l.Spec >= 0 && len(s.Specs[l.Spec].Checkpoints) > 0 {
		out = append(out, fact{Term: "Checkpoints passed", Value: passed(s.Specs[l.Spec])})
	}
	if l.Spec < 0 && s.Baseline == nil {
		for i, sp := range s.Specs {
			name := sp.Name
			if name == "" {
				name = fmt.Sprintf("Spec %d", i+1)
			}
			out = append(out, fact{Term: name, Value: toned(sp.Verdict).Word + ", " + inStep(sp.Lockstep) + " in lockstep"})
		}
	}
	return out
}

func baselineSpecs(s Session) []BaselineSpec {
	if s.Baseline == nil || len(s.Baseline.Specs) < 2 {
		return nil
	}
	return s.Baseline.Specs
}

// cardFacts writes facts from (x, y) down, in one column beside pictures and in
// two without, as many as there is room for.
func cardFacts(dst *image.RGBA, facts []fact, x, y int, soft, ink color.Color) {
	term, value := newPen(regular(), 20, soft), newPen(bold(), 28, ink)
	const step, bottom = 68, 570
	columns := 1
	if x == cardEdge {
		columns = 2
	}
	wide := (CardWidth - cardEdge - x - (columns-1)*40) / columns
	rows := (bottom - y) / step
	for i, f := range facts {
		if i == rows*columns-1 && len(facts) > rows*columns {
			f = fact{Term: "and", Value: count(len(facts)-i) + " more"}
		}
		if i >= rows*columns {
			return
		}
		fx, fy := x+i%columns*(wide+40), y+i/columns*step
		term.line(dst, fx, fy+18, wide, plain(f.Term, longName))
		value.line(dst, fx, fy+18+32, wide, plain(f.Value, longName))
	}
}
