package specs

import (
	"sort"
	"strings"

	"go.yaml.in/yaml/v3"
)

// Field is one key of a mapping that fills an S.
type Field[S any] struct {
	Name     string
	About    string // description for editors: meaning, unit, default
	Required bool
	Default  any // shown to editors; the mapping's Start holds the real value
	shape    Shape
	read     func(s *S, v *Value)
}

// Key makes a field whose value has the shape r and is kept by set, which is
// only called when the value was read without a problem.
func Key[S, T any](name string, r Reader[T], about string, set func(s *S, x T, at Pos)) Field[S] {
	return Field[S]{Name: name, About: about, shape: r, read: func(s *S, v *Value) {
		if x, ok := r.Read(v); ok {
			set(s, x, v.Pos())
		}
	}}
}

// partKey is Key for a value that is kept as far as it was read, so that what
// is good in it can still be checked against other files.
func partKey[S, T any](name string, r Reader[T], about string, set func(s *S, x T, at Pos)) Field[S] {
	return Field[S]{Name: name, About: about, shape: r, read: func(s *S, v *Value) {
		x, _ := r.Read(v)
		set(s, x, v.Pos())
	}}
}

// Need is the field, required.
func (f Field[S]) Need() Field[S] { f.Required = true; return f }

// Else is the field with the default that editors show.
func (f Field[S]) Else(x any) Field[S] { f.Default = x; return f }

// Mapping is a mapping of known keys that is read into an S.
type Mapping[S any] struct {
	Fields []Field[S]
	// Start is the value before any key is read: the defaults. Nil is the zero S.
	Start func(at Pos) S
	// Finish checks the keys together. have tells which keys are there.
	Finish func(s *S, v *Value, have func(key string) (*Value, bool))
	// Extra is added to the schema: rules over several keys.
	Extra map[string]any
}

// Schema describes the mapping.
func (m Mapping[S]) Schema() map[string]any {
	props := map[string]any{}
	required := []string{}
	for _, f := range m.Fields {
		s := f.shape.Schema()
		if f.About != "" {
			s["description"] = f.About
		}
		if f.Default != nil {
			s["default"] = f.Default
		}
		props[f.Name] = s
		if f.Required {
			required = append(required, f.Name)
		}
	}
	s := map[string]any{"type": "object", "properties": props, "additionalProperties": false}
	if len(required) > 0 {
		s["required"] = required
	}
	for k, x := range m.Extra {
		s[k] = x
	}
	return s
}

// Read reads the mapping. Unknown, repeated and missing keys are problems; the
// S is returned as far as it was read.
func (m Mapping[S]) Read(v *Value) (S, bool) {
	var s S
	if m.Start != nil {
		s = m.Start(v.Pos())
	}
	if v.node.Kind != yaml.MappingNode || v.doc.refused[v.node] {
		v.want("a mapping")
		return s, false
	}
	before := len(v.doc.problems.list) + v.doc.problems.more
	first := m.children(v)
	for _, f := range m.Fields {
		if c, ok := first[f.Name]; ok {
			f.read(&s, c)
		} else if f.Required {
			missing := v.child(f.Name, v.node)
			missing.Fail("missing")
		}
	}
	if m.Finish != nil {
		m.Finish(&s, v, func(key string) (*Value, bool) { c, ok := first[key]; return c, ok })
	}
	return s, len(v.doc.problems.list)+v.doc.problems.more == before
}

// children are the values of the known keys. Other keys are reported.
func (m Mapping[S]) children(v *Value) map[string]*Value {
	known := make([]string, len(m.Fields))
	names := map[string]bool{}
	for i, f := range m.Fields {
		known[i] = f.Name
		names[f.Name] = true
	}
	sort.Strings(known)
	first := map[string]*Value{}
	seen := map[string]int{}
	for i := 0; i+1 < len(v.node.Content); i += 2 {
		k, x := v.node.Content[i], v.node.Content[i+1]
		if v.doc.refused[k] {
			continue
		}
		if k.Kind != yaml.ScalarNode {
			(&Value{doc: v.doc, node: k, key: v.key}).Fail("a key is plain text")
			continue
		}
		name := k.Value
		at := v.child(printable(name), k)
		if line, twice := seen[name]; twice {
			at.Fail("key given twice; first on line %d", line)
			continue
		}
		seen[name] = k.Line
		if names[name] {
			c := v.child(name, x)
			c.beside = first
			first[name] = c
			continue
		}
		if v.doc.problems.full() {
			at.Fail("unknown key")
			continue
		}
		switch near := nearest(name, known); {
		case near != "":
			at.Fail("unknown key; did you mean %s?", near)
		default:
			at.Fail("unknown key; known are %s", strings.Join(known, ", "))
		}
	}
	return first
}

// printable is a key as it is shown in messages: quoted unless it is a plain
// word.
func printable(key string) string {
	plain := key != "" && len(key) <= 40
	for _, r := range key {
		if !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '_' || r == '-') {
			plain = false
		}
	}
	if plain {
		return key
	}
	return show(key)
}
