package specs

import (
	"strings"

	"go.yaml.in/yaml/v3"
)

// Table is a mapping of free names to values, such as `points`.
type Table[T any] struct {
	Of   Reader[T]
	Name Text // the form of the names
	Max  int  // at least one entry, at most so many
	Says string
}

// Entry is one entry of a table.
type Entry[T any] struct {
	Name string
	Of   T
	Pos  Pos
}

// Schema describes the table.
func (t Table[T]) Schema() map[string]any {
	return map[string]any{
		"type": "object", "minProperties": 1, "maxProperties": t.Max,
		"propertyNames": t.Name.Schema(), "additionalProperties": t.Of.Schema(),
	}
}

// Read reads every entry, in the order of the file, and returns those that were
// read without a problem.
func (t Table[T]) Read(v *Value) ([]Entry[T], bool) {
	if v.node.Kind != yaml.MappingNode || v.doc.refused[v.node] {
		v.want(t.Says)
		return nil, false
	}
	if n := len(v.node.Content) / 2; n < 1 || n > t.Max {
		v.Fail("want %s of 1 to %d entries, have %d", t.Says, t.Max, n)
		return nil, false
	}
	var all []Entry[T]
	good := true
	seen := map[string]int{}
	for i := 0; i+1 < len(v.node.Content); i += 2 {
		k, x := v.node.Content[i], v.node.Content[i+1]
		if v.doc.refused[k] {
			good = false
			continue
		}
		key := v.child(printable(strings.TrimSpace(k.Value)), k)
		name, ok := t.Name.Read(key)
		if line, twice := seen[name]; ok && twice {
			key.Fail("key given twice; first on line %d", line)
			ok = false
		}
		seen[name] = k.Line
		of, also := t.Of.Read(v.child(printable(name), x))
		if good = good && ok && also; ok && also {
			all = append(all, Entry[T]{Name: name, Of: of, Pos: key.Pos()})
		}
	}
	return all, good
}
