package checks

import "latchproof/specs"

//go:generate go run ./internal/genschema ../../specs/spec.schema.json

// All is every kind of checkpoint.
var All = specs.Registry{
	Shows{},
	Hides{},
	Reads{},
	Measure{},
	Screen{},
	Still{},
	Black{},
}
