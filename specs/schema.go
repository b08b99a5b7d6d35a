package specs

import (
	"bytes"
	"encoding/json"
	"maps"
)

// SchemaID names the published schema, specs/spec.schema.json.
const SchemaID = "urn:latchproof:spec:1"

// Schema is the JSON Schema (draft 2020-12) of spec files with these kinds of
// checkpoints, indented, with a final newline. It is made from the tables that
// Parse reads by. What it cannot express, and only Parse and Load report:
// files, marks, ranges that end before they begin, names given twice, numbers
// that depend on one another, and the limits of `timeout`. YAML features that
// JSON lacks are refused by Parse as well.
func Schema(kinds Registry) []byte {
	return SchemaOf(specMapping(kinds), SchemaID, "latchproof spec",
		"A spec file (*.spec.yaml): a button program, a console profile, and what the screen must show.")
}

// SchemaOf is the JSON Schema (draft 2020-12) of files of a shape, indented, with a
// final newline.
func SchemaOf(shape Shape, id, title, about string) []byte {
	s := shape.Schema()
	s["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	s["$id"] = id
	s["title"] = title
	s["description"] = about
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(s); err != nil {
		panic("specs: the schema of a shape is not JSON: " + err.Error())
	}
	return b.Bytes()
}

// clone is a copy of a schema that may be added to.
func clone(s map[string]any) map[string]any {
	if s == nil {
		return map[string]any{}
	}
	return maps.Clone(s)
}
