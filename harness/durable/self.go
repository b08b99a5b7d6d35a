package durable

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
)

// Zeros is what the key "self" holds before Fill: 64 zeros.
var Zeros = strings.Repeat("0", 2*sha256.Size)

const selfKey = `"self": "`

// Fill sets the hash of its own in an indented JSON text whose first "self" holds
// Zeros. It is an error when it does not.
func Fill(src []byte) error {
	at, ok := self(src)
	if !ok || string(src[at:at+len(Zeros)]) != Zeros {
		return fmt.Errorf(`no "self" of %d zeros`, len(Zeros))
	}
	sum := sha256.Sum256(src)
	hex.Encode(src[at:], sum[:])
	return nil
}

// Holds says whether a text has a hash of its own, and it is right.
func Holds(src []byte) bool {
	at, ok := self(src)
	if !ok {
		return false
	}
	text := bytes.Clone(src)
	copy(text[at:], Zeros)
	sum := sha256.Sum256(text)
	return string(src[at:at+len(Zeros)]) == hex.EncodeToString(sum[:])
}

// self is where the digits of the hash begin.
func self(src []byte) (at int, ok bool) {
	at = bytes.Index(src, []byte(selfKey))
	if at < 0 || at+len(selfKey)+len(Zeros) > len(src) {
		return 0, false
	}
	return at + len(selfKey), true
}

// Sum is the SHA-256 of src as 64 lower-case hex digits.
func Sum(src []byte) string {
	sum := sha256.Sum256(src)
	return hex.EncodeToString(sum[:])
}
