// Package reportschema makes the JSON Schema of report.json from the Go types of
// the report's model, and words.go for what the types cannot say.
package reportschema

import (
	"reflect"

	"latchproof/specs/goschema"
)

// Generate is the schema with that $id of the type root. The comments come from the
// Go files in dir, the folder of root's package.
func Generate(dir, id string, root reflect.Type) ([]byte, error) {
	return goschema.Generate(goschema.Model{
		Root: root, Dir: dir, ID: id, Title: "latchproof report", Words: words, Rules: rules,
		First: map[string]any{
			"$schema": map[string]any{"const": id, "description": "Names this schema."},
			"format":  map[string]any{"const": 1, "description": "Version of the format. Within one version keys are added and none changes its meaning, so a reader skips keys that it does not know."},
		},
		FirstOrder: []string{"$schema", "format"},
	})
}
