package specs

import (
	"reflect"
	"slices"
	"strings"

	"latchproof/specs/console"
)

// Kind is one kind of checkpoint. Kinds are not part of this package: they
// are handed to Parse and Load in a Registry.
type Kind interface {
	// Key is the key that holds the kind's value, such as "shows".
	Key() string
	// Schema is the JSON Schema of the value. Its description is shown by editors.
	Schema() map[string]any
	// Decode reads the value and reports every problem through it. It gives the
	// check, which this package only hands on, or nil when there was a problem.
	Decode(v *Value) any
}

// Companion is a Kind with more keys beside its own in the checkpoint. Decode
// finds them by Value.Beside. Kinds may share a companion key.
type Companion interface {
	Kind
	// Companions are the keys and their JSON Schemas.
	Companions() map[string]map[string]any
}

// Series is a Kind that judges the pictures of a range together. It needs a
// range, takes no `every`, and cannot be an anchor; `unseen` says how many of
// the frames may lack a picture.
type Series interface {
	Kind
	// Series does nothing; it marks the kind.
	Series()
}

// Pointer is a Kind that needs the named points of the key `points`, and reads
// them. A registry holds one at most.
type Pointer interface {
	Kind
	// PointSchema is the JSON Schema of one point.
	PointSchema() map[string]any
	// DecodePoint is Decode for one point.
	DecodePoint(v *Value) any
}

// Eventer is a Kind by which a timing can begin or end.
type Eventer interface {
	Kind
	// EventKey is the key in `from` and `to`.
	EventKey() string
	// EventSchema is the JSON Schema of its value.
	EventSchema() map[string]any
	// DecodeEvent is Decode for that value.
	DecodeEvent(v *Value) any
}

// Registry is the kinds a spec may use.
type Registry []Kind

// pointer is the kind that reads points, or nil.
func (r Registry) pointer() Pointer {
	for _, k := range r {
		if p, ok := k.(Pointer); ok {
			return p
		}
	}
	return nil
}

// series are the keys of the kinds that judge a range together.
func (r Registry) series() (keys []string) {
	for _, k := range r {
		if _, ok := k.(Series); ok {
			keys = append(keys, k.Key())
		}
	}
	return keys
}

// single is the kinds that judge one picture.
func (r Registry) single() (out Registry) {
	for _, k := range r {
		if _, ok := k.(Series); !ok {
			out = append(out, k)
		}
	}
	return out
}

// keys are the kinds' keys in the order of registration.
func (r Registry) keys() []string {
	k := make([]string, len(r))
	for i, kind := range r {
		k[i] = kind.Key()
	}
	return k
}

// companions are the companion keys, with the kinds that take them.
func (r Registry) companions() map[string]companion {
	all := map[string]companion{}
	for _, k := range r {
		if c, ok := k.(Companion); ok {
			for name, schema := range c.Companions() {
				all[name] = append(all[name], taker{k.Key(), schema})
			}
		}
	}
	return all
}

// companion is the kinds that take a companion key.
type companion []taker

type taker struct {
	kind   string
	schema map[string]any
}

func (c companion) kinds() (all []string) {
	for _, t := range c {
		all = append(all, t.kind)
	}
	return all
}

// alike says whether all kinds take the same values.
func (c companion) alike() bool {
	for _, t := range c {
		if !reflect.DeepEqual(t.schema, c[0].schema) {
			return false
		}
	}
	return true
}

// schema is that of the key for all its kinds.
func (c companion) schema() map[string]any {
	if c.alike() {
		return c[0].schema
	}
	of, about := []any{}, []string{}
	for _, t := range c {
		of = append(of, t.schema)
		if d, ok := t.schema["description"].(string); ok && !slices.Contains(about, d) {
			about = append(about, d)
		}
	}
	return map[string]any{"anyOf": of, "description": strings.Join(about, " ")}
}

// Env is what Load knows and a check may need.
type Env struct {
	Folder  Folder          // the spec's folder
	Console console.Profile // the zero Profile when it could not be read
	Points  []Point         // bound and prepared before the checks that need them
}

// Binder is a check that needs its environment. Load calls Bind once, before
// Prepare.
type Binder interface{ Bind(env Env) }

// Preparer is a check with work to do before it can look, such as reading its
// template. Load calls Prepare and reports its error at the check's place; an
// ErrorList is reported as it is.
type Preparer interface{ Prepare() error }
