package reports

import _ "embed"

//go:generate go run ./internal/genschema report.schema.json

// SchemaID names the published schema, reports/report.schema.json.
const SchemaID = "urn:latchproof:report:1"

//go:embed report.schema.json
var schemaText []byte

// Schema is the JSON Schema (draft 2020-12) of what WriteJSON writes, indented,
// with a final newline. It is made from the model by `go generate`.
func Schema() []byte { return append([]byte(nil), schemaText...) }
