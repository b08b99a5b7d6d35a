package checks

import (
	"image"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"latchproof/specs"
	"latchproof/vision/screen"
)

// Picture is a screen for Warnings to look at, with its name for messages.
type Picture struct {
	Name   string
	Screen *screen.Screen
}

const (
	plainContrast = 10   // levels, below which a template is called plain
	chance        = 1e-3 // of a screen of noise on which a template is found
	covered       = 0.75 // share of a template's pixels that another one must cover
	nearMargin    = 0.1  // what is nearer to a threshold is warned of
	mostLooks     = 3e8  // products of pixels spent on one pair of templates
)

// Warnings tells of templates and glyphs that could match the wrong thing: that
// are so plain that noise hides or imitates them, that look like themselves
// some pixels off, like another template of the spec, or like another place of
// one of the pictures, which have the size of the raster. Each gives the score
// of the second best and the margin, which is the threshold less that score.
// The spec comes from specs.Load. Warnings are no errors: the spec can be used.
func Warnings(s *specs.Spec, pictures []Picture) specs.ErrorList {
	l := linter{told: map[string]bool{}}
	for _, c := range s.Checks() {
		switch c := c.(type) {
		case *shows:
			l.targets = append(l.targets, linted{target: c.target})
		case *hides:
			l.targets = append(l.targets, linted{target: c.target, hides: true})
		case *spot:
			l.targets = append(l.targets, linted{target: c.target, exact: true})
		case *reads:
			l.glyphs(c)
		case *whole:
			l.reference(c)
		}
	}
	for i, t := range l.targets {
		if t.template == nil {
			continue
		}
		l.plain(t)
		l.itself(t)
		for k, o := range l.targets {
			if k != i && o.name != t.name && o.template != nil {
				l.other(t, o)
			}
		}
		for _, p := range pictures {
			l.picture(t, p)
		}
	}
	slices.SortStableFunc(l.list, func(a, b *specs.Error) int {
		if a.Line != b.Line {
			return a.Line - b.Line
		}
		return a.Col - b.Col
	})
	return l.list
}

type linted struct {
	*target
	hides bool
	exact bool // its place is measured
}

// threshold is the one without noise.
func (t linted) threshold() float64 {
	if t.score > 0 {
		return t.score
	}
	return DefaultScore
}

type linter struct {
	targets []linted
	list    specs.ErrorList
	told    map[string]bool
}

// warn tells each thing once.
func (l *linter) warn(at specs.Pos, format string, a ...any) {
	e := at.Errorf(format, a...)
	if !l.told[e.Error()] {
		l.told[e.Error()] = true
		l.list = append(l.list, e)
	}
}

// plain warns of a template that noise hides, and of one that noise imitates.
func (l *linter) plain(t linted) {
	c := t.template.Contrast()
	if c < plainContrast {
		l.warn(t.namePos, "%s is plain: its contrast is %.1f levels, so that a noise of %.0f levels hides it", t.name, c, 1.5*c)
	}
	places := float64(t.places1().Dx() * t.places1().Dy())
	if p := places * byChance(t.threshold(), t.template.Used()); p > chance {
		l.warn(t.namePos, "%s has only %d pixels that count: on a screen of noise alone it would be found with a chance of %.2g", t.name, t.template.Used(), min(p, 1))
	}
}

// byChance is the chance that independent normal noise of n pixels correlates
// with anything by r or more: r√((n-2)/(1-r²)) has Student's distribution with
// n-2 degrees of freedom (Student, "Probable error of a correlation
// coefficient", Biometrika 6, 1908).
func byChance(r float64, n int) float64 {
	if n < 3 {
		return 1
	}
	if r >= 1 {
		return 0
	}
	t := distuv.StudentsT{Sigma: 1, Nu: float64(n - 2)}
	return t.Survival(r * math.Sqrt(float64(n-2)/(1-r*r)))
}

// places1 are the places allowed on the raster.
func (t linted) places1() image.Rectangle {
	if !t.in.Empty() {
		return t.in
	}
	size := t.template.Size()
	return image.Rect(0, 0, t.env.Console.Width-size.X+1, t.env.Console.Height-size.Y+1)
}

// itself warns of a template that looks the same some pixels off: a pattern.
func (l *linter) itself(t linted) {
	size, in := t.template.Size(), t.places1()
	reach := image.Pt(min(size.X/2, in.Dx()-1), min(size.Y/2, in.Dy()-1))
	for float64(reach.X+1)*float64(2*reach.Y+1)*float64(size.X*size.Y) > mostLooks {
		reach = reach.Div(2)
	}
	least := 3
	if t.exact {
		least = 1
	}
	best, at := -1.0, image.Point{}
	for dy := -reach.Y; dy <= reach.Y; dy++ {
		for dx := 0; dx <= reach.X; dx++ {
			if d := image.Pt(dx, dy); chebyshev(d, image.Point{}) >= least {
				if s := likeness(t.template, t.template, d, 0.5); s > best {
					best, at = s, d
				}
			}
		}
	}
	if best >= t.threshold() {
		l.warn(t.namePos, "%s looks like itself %s pixels off: second best %.3f, margin %+.3f; its place is not certain", t.name, point(at), best, t.threshold()-best)
	}
}

// other warns of a template that fits onto another one.
func (l *linter) other(t, o linted) {
	a, b := o.template.Size(), t.template.Size()
	if float64(a.X+b.X)*float64(a.Y+b.Y)*float64(b.X*b.Y) > mostLooks {
		return
	}
	best, at := -1.0, image.Point{}
	for dy := -b.Y; dy <= a.Y; dy++ {
		for dx := -b.X; dx <= a.X; dx++ {
			d := image.Pt(dx, dy)
			if t.near != nil && o.near != nil && chebyshev(o.near.Add(d), *t.near) > t.within+o.within {
				continue // they are never looked for there
			}
			if s := likeness(o.template, t.template, d, covered); s > best {
				best, at = s, d
			}
		}
	}
	if margin := t.threshold() - best; margin < nearMargin/2 {
		l.warn(t.namePos, "%s also fits %s, %s pixels from its corner: second best %.3f, margin %+.3f", t.name, o.name, point(at), best, margin)
	}
}

// picture warns of a second place on a picture, and of what is nearly found
// where it must not be.
func (l *linter) picture(t linted, p Picture) {
	m, err := t.template.Match(p.Screen, t.in)
	if err != nil {
		return // of another size: told elsewhere
	}
	b := t.threshold()
	switch {
	case m.Score >= b && m.Second >= b-nearMargin:
		l.warn(t.namePos, "on %s, %s scores %.3f at %s and second best %.3f at %s, margin %+.3f", p.Name, t.name, m.Score, point(m.At), m.Second, point(m.SecondAt), b-m.Second)
	case m.Score < b && m.Score >= b-nearMargin/2 && t.hides:
		l.warn(t.namePos, "on %s, %s must not be there and scores %.3f at %s, margin %+.3f", p.Name, t.name, m.Score, point(m.At), b-m.Score)
	}
}

// glyphs warns of glyphs that are hard to tell apart.
func (l *linter) glyphs(r *reads) {
	if r.glyphs == nil {
		return
	}
	b := r.score
	if b == 0 {
		b = DefaultScore
	}
	for i, g := range r.glyphs.glyphs {
		if c := g.tpl.Contrast(); c < plainContrast {
			l.warn(r.namePos, "%s: %q is plain: its contrast is %.1f levels", r.name, g.char, c)
		}
		for _, o := range r.glyphs.glyphs[:i] {
			if s := max(likeness(g.tpl, o.tpl, image.Point{}, covered), likeness(o.tpl, g.tpl, image.Point{}, covered)); s >= b {
				l.warn(r.namePos, "%s: %q and %q look alike: they score %.3f, margin %+.3f; in noise they will be unsure", r.name, o.char, g.char, s, b-s)
			}
		}
	}
}

// reference warns of a picture that nearly any other one is.
func (l *linter) reference(w *whole) {
	if w.test == nil {
		return
	}
	if line := w.test.fit(w.test.ref, 0, 4); line.shape < plainContrast/2 {
		l.warn(w.namePos, "%s is plain: its luma differs by %.1f levels only; `black` may say what is meant", w.name, line.shape)
	}
}
