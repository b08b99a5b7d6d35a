package attest

import (
	"crypto/ed25519"
	"crypto/sha256"
	"crypto/x509"
	"encoding/hex"
	"encoding/pem"
	"errors"
	"fmt"
)

const publicBlock = "PUBLIC KEY"

// KeyID names a public key: the SHA-256 of its SubjectPublicKeyInfo (RFC 8410), in
// DER, as 64 lower-case hexadecimal digits.
func KeyID(pub ed25519.PublicKey) string {
	sum := sha256.Sum256(info(pub))
	return hex.EncodeToString(sum[:])
}

// PublicPEM is the SubjectPublicKeyInfo (RFC 8410) of a key in PEM (RFC 7468), as
// FILE.pub and certificates hold it.
func PublicPEM(pub ed25519.PublicKey) string {
	return string(pem.EncodeToMemory(&pem.Block{Type: publicBlock, Bytes: info(pub)}))
}

// ParsePublic takes what PublicPEM gives, and nothing else.
func ParsePublic(text string) (ed25519.PublicKey, error) {
	b, _ := pem.Decode([]byte(text))
	if b == nil || b.Type != publicBlock {
		return nil, errors.New("not a public key in PEM")
	}
	k, err := x509.ParsePKIXPublicKey(b.Bytes)
	if err != nil {
		return nil, err
	}
	pub, ok := k.(ed25519.PublicKey)
	if !ok {
		return nil, fmt.Errorf("not an Ed25519 key but %T", k)
	}
	if PublicPEM(pub) != text {
		return nil, errors.New("public key is not in the one form that it has")
	}
	return pub, nil
}

// info cannot fail for a key of 32 bytes.
func info(pub ed25519.PublicKey) []byte {
	der, err := x509.MarshalPKIXPublicKey(pub)
	if err != nil {
		panic(err)
	}
	return der
}
