package checks

import (
	"fmt"
	"image"

	"latchproof/specs"
	"latchproof/vision"
	"latchproof/vision/screen"
)

// spot is a named point: a pixel of a template, found where the template stands.
type spot struct {
	*target
	pixel    image.Point // inside the template
	pixelPos specs.Pos
}

var pointFields = specs.Mapping[*spot]{
	Start: func(specs.Pos) *spot { return &spot{target: &target{}} },
	Fields: append(targetKeys(func(p *spot) *target { return p.target }),
		specs.Key[*spot, image.Point]("at", placeShape,
			"[x, y]: the pixel of the template that is the point, from its top left pixel. Default: [0, 0].",
			func(p **spot, x image.Point, at specs.Pos) { (*p).pixel, (*p).pixelPos = x, at })),
	Finish: func(_ **spot, _ *specs.Value, have func(string) (*specs.Value, bool)) { withinNear(have) },
	Extra:  withinNearRule,
}

// Prepare reads the template.
func (p *spot) Prepare() error {
	if err := p.target.Prepare(); err != nil {
		return err
	}
	if size := p.template.Size(); !p.pixel.In(image.Rectangle{Max: size}) {
		return specs.ErrorList{p.pixelPos.Errorf("%s is outside of %s, which is %dx%d", point(p.pixel), p.name, size.X, size.Y)}
	}
	return nil
}

// find says where the point is. Unsure says that the template is there and its
// place is not certain.
func (p *spot) find(s *screen.Screen) (Sight, image.Point, error) {
	sight, err := p.look(s)
	if err != nil || !sight.Found {
		return sight, image.Point{}, err
	}
	if err := p.ambiguous(s, &sight); err != nil {
		return sight, image.Point{}, err
	}
	return sight, sight.At.Add(p.pixel), nil
}

// ambiguous makes a sight unsure when the template fits another place as well,
// or a pixel beside so nearly as well that noise may decide.
func (p *spot) ambiguous(s *screen.Screen, sight *Sight) error {
	places := image.Rect(0, 0, s.W-p.template.Size().X+1, s.H-p.template.Size().Y+1)
	for dy := -1; dy <= 1; dy++ {
		for dx := -1; dx <= 1; dx++ {
			at := sight.At.Add(image.Pt(dx, dy))
			if at == sight.At || !at.In(places) {
				continue
			}
			score, err := p.template.ScoreAt(s, at)
			if err != nil {
				return err
			}
			if !apartBy(sight.Score, score, p.template.Used(), 8) {
				sight.Unsure = true
				sight.Why = fmt.Sprintf("cannot tell where %s is: it scores %.3f at %s and %.3f at %s, too near to tell", p.label(), sight.Score, point(sight.At), score, point(at))
				return nil
			}
		}
	}
	if p.in.Dx() == 1 && p.in.Dy() == 1 {
		return nil
	}
	m, err := p.template.Match(s, p.in)
	if err != nil {
		return err
	}
	if m.Second >= sight.Threshold {
		sight.Unsure = true
		sight.Why = fmt.Sprintf("cannot tell which %s is meant: it scores %.3f at %s and %.3f at %s; give `near` and `within`", p.label(), m.Score, point(m.At), m.Second, point(m.SecondAt))
	}
	return nil
}

// Point is a point of a template, for measuring without a spec.
type Point struct {
	Template *vision.Template
	Pixel    image.Point // inside the template, from its top left pixel
	Place    *Place      // where the template may stand; nil: anywhere
	Score    float64     // threshold; 0: the default for the noise of the screen
}

func (p Point) spot() *spot {
	return &spot{target: newTarget(p.Template, p.Place, p.Score), pixel: p.Pixel}
}
