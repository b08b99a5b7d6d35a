package main

import (
	"bytes"
	"maps"
	"slices"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"latchproof/reports"
)

// schema checks a report.json against the published schema, and that the schema
// knows every key of it.
func schema(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: schema FILE")
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(reports.Schema()))
	ts.Check(err)
	for _, o := range append(slices.Collect(maps.Values(doc.(map[string]any)["$defs"].(map[string]any))), doc) {
		o.(map[string]any)["additionalProperties"] = false
	}
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	ts.Check(c.AddResource(reports.SchemaID, doc))
	s, err := c.Compile(reports.SchemaID)
	ts.Check(err)
	found, err := jsonschema.UnmarshalJSON(strings.NewReader(ts.ReadFile(args[0])))
	ts.Check(err)
	ts.Check(s.Validate(found))
}
