// Package schema makes the JSON Schema of a certificate's predicate.
package schema

import (
	"math"
	"reflect"

	"latchproof/harness/attest"
	"latchproof/specs/goschema"
)

var (
	count = map[string]any{"minimum": 0, "maximum": 1 << 53} // exact in every reader of JSON
	small = map[string]any{"minimum": 0, "maximum": math.MaxInt32}
	hash  = map[string]any{"pattern": "^[0-9a-f]{64}$"}
	// line is a text without control characters.
	line = map[string]any{"pattern": `^[^\x00-\x1f\x7f]*$`, "maxLength": 4096}
)

// Generate is the schema; dir is the folder of package attest.
func Generate(dir string) ([]byte, error) {
	return goschema.Generate(goschema.Model{
		Root: reflect.TypeFor[attest.Predicate](), Dir: dir, ID: attest.SchemaID, Title: "latchproof certificate", Closed: true,
		Words: map[string]string{
			"Predicate.key": "The public key that the certificate was signed with: SubjectPublicKeyInfo (RFC 8410) in PEM. It lets a reader check the signature, and says nothing of whose key it is.",
		},
		Rules: map[string]map[string]any{
			"Predicate.key":               {"pattern": `^-----BEGIN PUBLIC KEY-----\n[A-Za-z0-9+/]{59}=\n-----END PUBLIC KEY-----\n$`},
			"Predicate.standing":          {"enum": []string{"none", "first", "record", "tie", "slower"}},
			"Predicate.frames":            count,
			"Predicate.unseen":            count,
			"Predicate.certified":         {"format": "date-time", "pattern": "Z$"},
			"PredicateClaim.name":         line,
			"PredicateClaim.by":           line,
			"PredicateClaim.category":     line,
			"PredicateClaim.frames":       count,
			"PredicateClaim.program_hash": hash,
			"PredicateHouse.name":         line,
			"PredicateHouse.repeats":      small,
			"PredicateHouse.lockstep":     small,
			"PredicateHouse.benches":      small,
			"PredicateHouse.ties":         {"const": "earlier"},
			"PredicateTime.frames":        count,
			"PredicateTime.low":           count,
			"PredicateTime.high":          count,
			"PredicateTime.seconds":       {"minimum": 0},
			"PredicateBefore.index":       count,
			"PredicateBefore.frames":      count,
			"PredicateBefore.by":          line,
			"PredicateBefore.leaf":        hash,
			"PredicateBench.name":         line,
			"PredicateBench.lockstep":     small,
		},
	})
}
