package attest

import (
	"crypto/ed25519"
	"encoding/json"
)

// Canonical, DoubleText and KeyOf show insides to the tests.
var Canonical = canonical

func DoubleText(f float64) string { return string(appendDouble(nil, f)) }

func KeyOf(private ed25519.PrivateKey) *Key { return keyOf(private) }

// Body gives the payload that Sign signs.
func Body(subjects []Subject, p Predicate) (json.RawMessage, error) {
	return encode(sorted(subjects), p.filled())
}
