package attest

import _ "embed"

//go:generate go run ./internal/genschema certificate.schema.json

// SchemaID names the published schema of the predicate, certificate.schema.json.
const SchemaID = "urn:latchproof:certificate:1"

//go:embed certificate.schema.json
var schemaText []byte

// Schema is the JSON Schema (draft 2020-12) of a certificate's predicate, indented,
// with a final newline. It is made from Predicate by `go generate`. What it cannot
// say, such as that low is at most high, Open checks.
func Schema() []byte { return append([]byte(nil), schemaText...) }
