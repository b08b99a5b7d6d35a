package recordbook

import (
	"crypto/ed25519"
	"encoding/json"

	"github.com/secure-systems-lab/go-securesystemslib/dsse"

	"latchproof/harness/attest"
)

// open reads a certificate that the key has signed.
func open(envelope []byte, key ed25519.PublicKey) (attest.Predicate, error) {
	var e dsse.Envelope
	var s struct{ Predicate attest.Predicate }
	if err := json.Unmarshal(envelope, &e); err != nil {
		return s.Predicate, err
	}
	payload, err := e.DecodeB64Payload()
	if err != nil {
		return s.Predicate, err
	}
	return s.Predicate, json.Unmarshal(payload, &s)
}
