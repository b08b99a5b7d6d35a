package attest_test

import (
	"bytes"
	"crypto/ed25519"
	"encoding/hex"
	"encoding/json"
	"testing"

	"github.com/secure-systems-lab/go-securesystemslib/dsse"

	"latchproof/harness/attest"
)

// FuzzOpen asks that Open takes nothing by a key but what was signed with it.
func FuzzOpen(f *testing.F) {
	k, src := fuzzed(f)
	f.Add(src)
	f.Add([]byte(`{"payload":"e30=","payloadType":"application/vnd.in-toto+json","signatures":[{"keyid":"","sig":""}]}`))
	f.Fuzz(func(t *testing.T, envelope []byte) {
		if _, err := attest.Open(envelope, k.Public().(ed25519.PublicKey)); err == nil && !bytes.Equal(envelope, src) {
			t.Fatal("another envelope is taken")
		}
		attest.Open(envelope, nil)
	})
}

// FuzzPayload signs anything, and asks that what Open takes is what Sign makes of it.
func FuzzPayload(f *testing.F) {
	k, src := fuzzed(f)
	var e dsse.Envelope
	if err := json.Unmarshal(src, &e); err != nil {
		f.Fatal(err)
	}
	body, err := e.DecodeB64Payload()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(body)
	f.Fuzz(func(t *testing.T, body []byte) {
		signer, _ := dsse.NewEnvelopeSigner(asSigner{k})
		e, err := signer.SignPayload(t.Context(), attest.PayloadType, body)
		if err != nil {
			t.Fatal(err)
		}
		src, err := json.Marshal(e)
		if err != nil {
			t.Fatal(err)
		}
		if src, err = attest.Canonical(src); err != nil {
			t.Fatal(err)
		}
		c, err := attest.Open(src, nil)
		if err != nil {
			return
		}
		again, err := attest.Sign(k, c.Subjects, c.Predicate)
		if err != nil || !bytes.Equal(again, src) {
			t.Fatalf("signed again it differs: %v", err)
		}
	})
}

func fuzzed(f *testing.F) (*attest.Key, []byte) {
	f.Helper()
	seed, err := hex.DecodeString(test1)
	if err != nil {
		f.Fatal(err)
	}
	k := attest.KeyOf(ed25519.NewKeyFromSeed(seed))
	src, err := attest.Sign(k, subjects(), sample())
	if err != nil {
		f.Fatal(err)
	}
	return k, src
}
