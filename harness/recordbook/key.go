package recordbook

import (
	"bytes"
	"crypto/ed25519"
	"crypto/x509"
	"encoding/pem"
	"errors"
)

// formatKey is a public key as PEM SubjectPublicKeyInfo (RFC 7468, RFC 8410).
func formatKey(key ed25519.PublicKey) ([]byte, error) {
	der, err := x509.MarshalPKIXPublicKey(key)
	return pem.EncodeToMemory(&pem.Block{Type: "PUBLIC KEY", Bytes: der}), err
}

// parseKey is the opposite; there is only one way to write a key.
func parseKey(src []byte) (ed25519.PublicKey, error) {
	block, _ := pem.Decode(src)
	if block == nil {
		return nil, errors.New("it is no PEM public key")
	}
	k, err := x509.ParsePKIXPublicKey(block.Bytes)
	if err != nil {
		return nil, err
	}
	key, ok := k.(ed25519.PublicKey)
	if !ok {
		return nil, errors.New("it is no Ed25519 key")
	}
	if again, err := formatKey(key); err != nil || !bytes.Equal(again, src) {
		return nil, errors.New("it is not written as keys are")
	}
	return key, nil
}
