package attest

import (
	"bytes"
	"context"
	"crypto"
	"crypto/ed25519"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"

	"github.com/secure-systems-lab/go-securesystemslib/dsse"
)

// PayloadType says that the payload of an envelope is an in-toto statement.
const PayloadType = "application/vnd.in-toto+json"

// MaxEnvelope is how large an envelope may be, bytes.
const MaxEnvelope = 8 << 20

// What can be wrong with a certificate.
var (
	// ErrForm says that it is not one, or not in the one form that it has.
	ErrForm = errors.New("not a certificate in canonical form")
	// ErrSignature says that the signature is not that of the key over the statement.
	ErrSignature = errors.New("signature does not hold")
	// ErrKey says that it is of another key than the one asked for.
	ErrKey = errors.New("another key")
)

// Certificate is what a checked envelope says.
type Certificate struct {
	Subjects  []Subject // in the order of their names
	Predicate Predicate
	Key       ed25519.PublicKey // that it is signed with
	KeyID     string            // KeyID of it
}

// Sign makes the certificate: a DSSE envelope in the form of RFC 8785. The key must
// be an Ed25519 key, such as a *Key. Predicate.Key is set, and lists that are nil
// become empty; the order of the subjects does not matter. The same key, subjects
// and predicate give the same bytes.
func Sign(k crypto.Signer, subjects []Subject, p Predicate) ([]byte, error) {
	pub, ok := k.Public().(ed25519.PublicKey)
	if !ok {
		return nil, fmt.Errorf("not an Ed25519 key but %T", k.Public())
	}
	p = p.filled()
	p.Key = PublicPEM(pub)
	body, err := encode(sorted(subjects), p)
	if err != nil {
		return nil, err
	}
	s, err := dsse.NewEnvelopeSigner(signer{k, pub})
	if err != nil {
		return nil, err
	}
	e, err := s.SignPayload(context.Background(), PayloadType, body)
	if err != nil {
		return nil, err
	}
	out, err := encodeEnvelope(e)
	if err != nil {
		return nil, err
	}
	// A key on a failing device, or a limit: nothing leaves here that Open refuses.
	if _, err := Open(out, pub); err != nil {
		return nil, err
	}
	return out, nil
}

// Open checks an envelope: its form, its signature, and that the statement is one
// that Sign makes. Every byte counts. Without a key, pub nil, the signature is
// checked with the key that the certificate carries, and nothing is said of whose
// key it is. The errors are ErrForm, ErrSignature and ErrKey.
func Open(envelope []byte, pub ed25519.PublicKey) (*Certificate, error) {
	e, body, err := decodeEnvelope(envelope)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrForm, err)
	}
	carried, err := carriedKey(body)
	if err != nil {
		return nil, fmt.Errorf("%w: key: %w", ErrForm, err)
	}
	if pub == nil {
		pub = carried
	}
	if len(pub) != ed25519.PublicKeySize {
		return nil, fmt.Errorf("%w: a public key of %d bytes", ErrKey, len(pub))
	}
	id := KeyID(pub)
	if !pub.Equal(carried) {
		return nil, fmt.Errorf("%w: it carries %s, and not %s", ErrKey, KeyID(carried), id)
	}
	if got := e.Signatures[0].KeyID; got != id {
		return nil, fmt.Errorf("%w: keyid is %q, and its key is %s", ErrForm, got, id)
	}
	v, err := dsse.NewEnvelopeVerifier(verifier{pub})
	if err != nil {
		return nil, err
	}
	if _, err := v.Verify(context.Background(), e); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrSignature, err)
	}
	subjects, p, err := decode(body)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrForm, err)
	}
	return &Certificate{Subjects: subjects, Predicate: p, Key: pub, KeyID: id}, nil
}

func encodeEnvelope(e *dsse.Envelope) ([]byte, error) {
	src, err := json.Marshal(e)
	if err != nil {
		return nil, err
	}
	return canonical(src)
}

// decodeEnvelope takes what encodeEnvelope gives of an envelope with one signature.
func decodeEnvelope(src []byte) (*dsse.Envelope, []byte, error) {
	if len(src) > MaxEnvelope {
		return nil, nil, fmt.Errorf("%d bytes, at most %d", len(src), MaxEnvelope)
	}
	var e dsse.Envelope
	if err := json.Unmarshal(src, &e); err != nil {
		return nil, nil, err
	}
	again, err := encodeEnvelope(&e)
	if err != nil {
		return nil, nil, err
	}
	// Keys twice, in other letters or unknown, white space, and escapes end here.
	if !bytes.Equal(again, src) {
		return nil, nil, fmt.Errorf("the envelope differs from its canonical form at byte %d", differ(again, src))
	}
	if e.PayloadType != PayloadType {
		return nil, nil, fmt.Errorf("payload type %q", e.PayloadType)
	}
	if len(e.Signatures) != 1 {
		return nil, nil, fmt.Errorf("%d signatures, not one", len(e.Signatures))
	}
	body, err := decodeBase64(e.Payload)
	if err != nil {
		return nil, nil, fmt.Errorf("payload: %w", err)
	}
	sig, err := decodeBase64(e.Signatures[0].Sig)
	if err != nil {
		return nil, nil, fmt.Errorf("signature: %w", err)
	}
	if len(sig) != ed25519.SignatureSize {
		return nil, nil, fmt.Errorf("signature of %d bytes, not %d", len(sig), ed25519.SignatureSize)
	}
	return &e, body, nil
}

// decodeBase64 takes the one spelling of RFC 4648, section 4, alone: padded, the
// spare bits zero, and no line ends.
func decodeBase64(s string) ([]byte, error) {
	b, err := base64.StdEncoding.Strict().DecodeString(s)
	if err == nil && base64.StdEncoding.EncodeToString(b) != s {
		err = errors.New("base64 with line ends")
	}
	return b, err
}

// carriedKey is the key in a payload that may still be anything.
func carriedKey(body []byte) (ed25519.PublicKey, error) {
	var s struct {
		Predicate struct {
			Key string `json:"key"`
		} `json:"predicate"`
	}
	if err := json.Unmarshal(body, &s); err != nil {
		return nil, err
	}
	return ParsePublic(s.Predicate.Key)
}

// signer and verifier are keys as the DSSE library wants them.
type signer struct {
	k   crypto.Signer
	pub ed25519.PublicKey
}

func (s signer) Sign(_ context.Context, data []byte) ([]byte, error) {
	return s.k.Sign(nil, data, crypto.Hash(0))
}
func (s signer) KeyID() (string, error) { return KeyID(s.pub), nil }

type verifier struct{ pub ed25519.PublicKey }

func (v verifier) Verify(_ context.Context, data, sig []byte) error {
	if !ed25519.Verify(v.pub, data, sig) {
		return ErrSignature
	}
	return nil
}
func (v verifier) KeyID() (string, error)   { return KeyID(v.pub), nil }
func (v verifier) Public() crypto.PublicKey { return v.pub }
