package recordbook

import (
	"bytes"
	"crypto"
	"crypto/ed25519"
	"crypto/rand"
	"encoding/base64"
	"encoding/binary"
	"errors"
	"fmt"
	"net/url"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
)

// Head is a signed tree head: what a book was at one size.
type Head struct {
	Origin string // the book, by the name of its house
	Size   int64  // entries
	Root   tlog.Hash
	// Note is the signed text, as in its file.
	Note []byte
}

const (
	originPrefix = "latchproof.invalid/records/"
	maxHead      = 4 << 10 // bytes
	maxOrigin    = 1 << 10 // bytes
)

// Origin is the first line of the heads of a house's book. It is an error when
// the name is empty or too long.
func Origin(house string) (string, error) {
	// PathEscape leaves these reserved characters, of which a note's name may not
	// have the plus.
	s := url.PathEscape(house)
	for _, c := range "!$&'()*+,;=:@" {
		s = strings.ReplaceAll(s, string(c), fmt.Sprintf("%%%02X", c))
	}
	if s == "" || len(s) > maxOrigin {
		return "", fmt.Errorf("a house needs a name, of at most %d bytes when percent-encoded", maxOrigin)
	}
	return originPrefix + s, nil
}

// House is the name of the house in an origin; false when it is none.
func House(origin string) (string, bool) {
	s, ok := strings.CutPrefix(origin, originPrefix)
	if !ok {
		return "", false
	}
	house, err := url.PathUnescape(s)
	if err != nil {
		return "", false
	}
	again, err := Origin(house)
	return house, err == nil && again == origin
}

// signer signs notes with any Ed25519 key (note.Signer).
type signer struct {
	note.Verifier
	key crypto.Signer
}

// Sign signs the text itself: Ed25519 without a hash before (RFC 8032, 5.1).
func (s signer) Sign(text []byte) ([]byte, error) {
	return s.key.Sign(rand.Reader, text, crypto.Hash(0))
}

// verifier checks notes of an origin by its public key.
func verifier(origin string, key ed25519.PublicKey) (note.Verifier, error) {
	v, err := note.NewEd25519VerifierKey(origin, key)
	if err != nil {
		return nil, err
	}
	return note.NewVerifier(v)
}

// publicKey is the Ed25519 public key of a key.
func publicKey(key crypto.Signer) (ed25519.PublicKey, error) {
	if key == nil {
		return nil, errors.New("no key")
	}
	pub, ok := key.Public().(ed25519.PublicKey)
	if !ok || len(pub) != ed25519.PublicKeySize {
		return nil, errors.New("the key is no Ed25519 key")
	}
	return pub, nil
}

// SignHead makes the signed head of a book.
func SignHead(origin string, size int64, root tlog.Hash, key crypto.Signer) (Head, error) {
	pub, err := publicKey(key)
	if err != nil {
		return Head{}, err
	}
	v, err := verifier(origin, pub)
	if err != nil {
		return Head{}, err
	}
	text := fmt.Sprintf("%s\n%d\n%s\n", origin, size, root)
	src, err := note.Sign(&note.Note{Text: text}, signer{v, key})
	if err != nil {
		return Head{}, err
	}
	return ParseHead(src, pub) // a signature that does not hold never leaves
}

// ParseHead reads a head and checks its signature and that it is written as
// doc.go says. Errors: ErrProof.
func ParseHead(src []byte, key ed25519.PublicKey) (Head, error) {
	fail := func(format string, a ...any) (Head, error) {
		return Head{}, fmt.Errorf("%w: tree head: %s", ErrProof, fmt.Sprintf(format, a...))
	}
	if len(src) > maxHead {
		return fail("it has more than %d bytes", maxHead)
	}
	lines := strings.SplitN(string(src), "\n", 4)
	if len(lines) < 4 {
		return fail("it has no three lines")
	}
	h := Head{Origin: lines[0], Note: bytes.Clone(src)}
	if _, ok := House(h.Origin); !ok {
		return fail("its first line names no book")
	}
	n, err := strconv.ParseInt(lines[1], 10, 64)
	if err != nil || n < 0 || strconv.FormatInt(n, 10) != lines[1] {
		return fail("its second line is no size")
	}
	h.Size = n
	if h.Root, err = tlog.ParseHash(lines[2]); err != nil || h.Root.String() != lines[2] {
		return fail("its third line is no root hash")
	}
	v, err := verifier(h.Origin, key)
	if err != nil {
		return fail("%v", err)
	}
	opened, err := note.Open(src, note.VerifierList(v))
	var unverified *note.UnverifiedNoteError
	var invalid *note.InvalidSignatureError
	switch {
	case errors.As(err, &unverified):
		return fail("it is signed by another key")
	case errors.As(err, &invalid):
		return fail("its signature is wrong")
	case err != nil:
		return fail("%v", err)
	}
	// note.Open lets pass what we never write: more lines, more signatures, bits
	// in the padding of base64.
	text := fmt.Sprintf("%s\n%d\n%s\n", h.Origin, h.Size, h.Root)
	raw, err := base64.StdEncoding.DecodeString(opened.Sigs[0].Base64)
	if err != nil || len(raw) < 4 {
		return fail("its signature is wrong")
	}
	again := formatNote(text, v, raw[4:])
	if !bytes.Equal(again, src) {
		return fail("it is not written as heads are")
	}
	return h, nil
}

// formatNote is a note with one signature.
func formatNote(text string, v note.Verifier, sig []byte) []byte {
	raw := append(binary.BigEndian.AppendUint32(nil, v.KeyHash()), sig...)
	return fmt.Appendf(nil, "%s\n— %s %s\n", text, v.Name(), base64.StdEncoding.EncodeToString(raw))
}

// Same says whether two heads speak of the same book at the same size.
func (h Head) Same(other Head) bool {
	return h.Origin == other.Origin && h.Size == other.Size && h.Root == other.Root
}
