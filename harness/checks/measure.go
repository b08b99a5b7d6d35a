package checks

import (
	"errors"
	"fmt"
	"image"
	"strings"

	"latchproof/specs"
	"latchproof/vision/screen"
)

// Measure is the kind `measure`: the distance between two named points.
type Measure struct{}

// Key is "measure".
func (Measure) Key() string { return "measure" }

var pointRef = specs.Text{Min: 1, Max: 40, Says: "the name of a point"}

var measureFields = specs.Mapping[*measure]{
	Start: func(specs.Pos) *measure { return &measure{} },
	Fields: []specs.Field[*measure]{
		specs.Key[*measure, string]("from", pointRef, "The point, named under `points`, that the distance is counted from.",
			func(m **measure, x string, at specs.Pos) { (*m).fromName, (*m).fromPos = x, at }).Need(),
		specs.Key[*measure, string]("to", pointRef, "The point, named under `points`, that the distance is counted to.",
			func(m **measure, x string, at specs.Pos) { (*m).toName, (*m).toPos = x, at }).Need(),
	},
	Finish: func(m **measure, v *specs.Value, have func(string) (*specs.Value, bool)) {
		if to, ok := have("to"); ok && (*m).fromName == (*m).toName && (*m).toName != "" {
			to.Fail("the same point as from")
		}
	},
}

// Schema describes the value.
func (Measure) Schema() map[string]any {
	s := measureFields.Schema()
	s["description"] = "The distance in whole pixels from one named point to another. What it must be stands beside: equals, tolerance."
	return s
}

var toleranceShape = specs.Int{Min: 0, Max: maxSide}

// Companions are the keys beside it.
func (Measure) Companions() map[string]map[string]any {
	equals, tolerance := stepShape.Schema(), toleranceShape.Schema()
	equals["description"] = "With `measure`: the distance [x, y] that is wanted, in pixels."
	tolerance["description"] = "With `measure` and `equals`: by how many pixels it may be off, in x and in y. Default: 0."
	return map[string]map[string]any{"equals": equals, "tolerance": tolerance}
}

// Decode reads the value.
func (Measure) Decode(v *specs.Value) any {
	m, ok := measureFields.Read(v)
	if e, given := v.Beside("equals"); given {
		x, also := stepShape.Read(e)
		if ok = ok && also; ok {
			m.equals = &x
		}
	}
	if t, given := v.Beside("tolerance"); given {
		x, also := toleranceShape.Read(t)
		if _, with := v.Beside("equals"); also && !with {
			t.Fail("only together with equals")
			also = false
		}
		if ok = ok && also; ok {
			m.tolerance = int(x)
		}
	}
	if !ok {
		return nil
	}
	return m
}

// PointSchema describes a point.
func (Measure) PointSchema() map[string]any {
	s := pointFields.Schema()
	s["description"] = "A pixel of a template, found where the template stands."
	return s
}

// DecodePoint reads a point.
func (Measure) DecodePoint(v *specs.Value) any {
	p, ok := pointFields.Read(v)
	if !ok {
		return nil
	}
	return p
}

// NewMeasure is the check without a spec, for screens of any size. equals nil
// asks only that it can be measured.
func NewMeasure(from, to Point, equals *image.Point, tolerance int) Check {
	m := &measure{from: from.spot(), to: to.spot(), equals: equals, tolerance: tolerance, ready: true}
	if m.fromName, m.toName = m.from.label(), m.to.label(); m.fromName == m.toName {
		m.fromName, m.toName = "from", "to"
	}
	return m
}

// measure holds when the distance is the one wanted. It is unsure when a point's
// place is not certain, and does not hold when one is not there.
type measure struct {
	fromName, toName string
	fromPos, toPos   specs.Pos
	equals           *image.Point
	tolerance        int

	ready    bool
	env      specs.Env
	from, to *spot
}

func (*measure) Kind() string { return "measure" }

func (m *measure) Bind(env specs.Env) { m.env = env }

// Templates are those of the points.
func (m *measure) Templates() []string {
	var names []string
	for _, p := range []*spot{m.from, m.to} {
		if p != nil {
			names = append(names, p.name)
		}
	}
	return names
}

// Prepare finds the points, which were prepared before.
func (m *measure) Prepare() error {
	if m.ready || m.from != nil && m.to != nil {
		return nil
	}
	if m.env.Folder.Dir == "" {
		return specs.ErrorList{m.fromPos.Errorf("%w", ErrNotPrepared)}
	}
	var list specs.ErrorList
	find := func(name string, at specs.Pos) *spot {
		var known []string
		for _, p := range m.env.Points {
			known = append(known, p.Name)
			if p.Name != name {
				continue
			}
			if s, ok := p.Of.(*spot); ok {
				return s
			}
		}
		if len(known) == 0 {
			list = append(list, at.Errorf("no point named %q: the spec has no `points`", name))
		} else {
			list = append(list, at.Errorf("no point named %q; those named are %s", name, strings.Join(known, ", ")))
		}
		return nil
	}
	from, to := find(m.fromName, m.fromPos), find(m.toName, m.toPos)
	if list != nil {
		return list
	}
	m.from, m.to = from, to
	return nil
}

func (m *measure) Look(s *screen.Screen) (Sight, error) {
	if m.from == nil || m.to == nil {
		return Sight{}, ErrNotPrepared
	}
	a, from, err := m.from.find(s)
	b, to, err2 := m.to.find(s)
	if err := errors.Join(err, err2); err != nil {
		return Sight{}, err
	}
	sight, other := a, b
	if b.Score-b.Threshold < a.Score-a.Threshold {
		sight, other = b, a
	}
	for _, p := range []struct {
		Sight
		name string
	}{{a, m.fromName}, {b, m.toName}} {
		if !p.Found || p.Unsure {
			p.Sight.Found, p.Holds, p.Seen = false, false, ""
			p.Why = fmt.Sprintf("point %s: %s", p.name, p.Why)
			return p.Sight, nil
		}
	}
	d := to.Sub(from)
	box := image.Rectangle{Min: a.At, Max: a.At.Add(a.Size)}.Union(image.Rectangle{Min: b.At, Max: b.At.Add(b.Size)})
	sight.At, sight.Size = box.Min, box.Size()
	sight.Value = distance(d)
	sight.Seen = fmt.Sprintf("%s at %s, %s at %s", m.fromName, point(from), m.toName, point(to))
	sight.Holds = m.equals == nil || chebyshev(d, *m.equals) <= m.tolerance
	sight.Why = fmt.Sprintf("%s is at %s and %s at %s: %s", m.fromName, point(from), m.toName, point(to), point(d))
	if !sight.Holds {
		sight.Why += ", not " + m.wants()
	}
	sight.Why += fmt.Sprintf("; scores %.3f and %.3f", sight.Score, other.Score)
	return sight, nil
}

// Explain is Look.
func (m *measure) Explain(s *screen.Screen) (Sight, error) { return m.Look(s) }

func (m *measure) wants() string {
	switch {
	case m.equals == nil:
		return "any distance"
	case m.tolerance == 0:
		return point(*m.equals)
	}
	return fmt.Sprintf("%s give or take %d px", point(*m.equals), m.tolerance)
}

func (m *measure) Describe() string {
	return fmt.Sprintf("measures from %s to %s: %s", m.fromName, m.toName, m.wants())
}
