package specs

import (
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
// finds them by Value.Beside. Kinds may share a companion key, with the same
// schema.
type Companion interface {
	Kind
	// Companions are the keys and their JSON Schemas.
	Companions() map[string]map[string]any
}

// Registry is the kinds a spec may use.
type Registry []Kind

// keys are the kinds' keys in the order of registration.
func (r Registry) keys() []string {
	k := make([]string, len(r))
	for i, kind := range r {
		k[i] = kind.Key()
	}
	return k
}

// companions are the companion keys, with their schema and the kinds that take
// them.
func (r Registry) companions() map[string]companion {
	all := map[string]companion{}
	for _, k := range r {
		if c, ok := k.(Companion); ok {
			for name, schema := range c.Companions() {
				all[name] = companion{schema: schema, kinds: append(all[name].kinds, k.Key())}
			}
		}
	}
	return all
}

type companion struct {
	schema map[string]any
	kinds  []string
}

// Env is what Load knows and a check may need.
type Env struct {
	Folder  Folder          // the spec's folder
	Console console.Profile // the zero Profile when it could not be read
}

// Binder is a check that needs its environment. Load calls Bind once, before
// Prepare.
type Binder interface{ Bind(env Env) }

// Preparer is a check with work to do before it can look, such as reading its
// template. Load calls Prepare and reports its error at the check's place; an
// ErrorList is reported as it is.
type Preparer interface{ Prepare() error }
