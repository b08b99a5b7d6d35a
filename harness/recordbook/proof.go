package recordbook

import (
	"bytes"
	"crypto/ed25519"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"

	"golang.org/x/mod/sumdb/tlog"
)

// The kinds of proof.
const (
	InclusionProof = "inclusion"
	GrowthProof    = "growth"
)

const (
	proofVersion = 1
	maxProof     = 64 << 10 // bytes; a path has at most some 50 hashes
)

// Inclusion proves that an entry is in the book of a head. It is written as doc.go
// says.
type Inclusion struct {
	Proof   string   `json:"proof"` // InclusionProof
	Version int      `json:"version"`
	Index   int64    `json:"index"`
	Leaf    string   `json:"leaf"` // lower-case hex
	Path    []string `json:"path"` // lower-case hex
	Head    string   `json:"head"` // text of a head
}

// Growth proves that the book of one head begins with that of another.
type Growth struct {
	Proof   string   `json:"proof"` // GrowthProof
	Version int      `json:"version"`
	Path    []string `json:"path"` // lower-case hex
	Old     string   `json:"old"`  // text of a head
	New     string   `json:"new"`  // text of a head
}

// Prove proves that an entry is in the book as it is now.
func (b *Book) Prove(index int64) (Inclusion, error) {
	e, err := b.Entry(index)
	if err != nil {
		return Inclusion{}, err
	}
	path, err := tlog.ProveRecord(b.Len(), index, b.hashes)
	return Inclusion{InclusionProof, proofVersion, index, hex.EncodeToString(e.Leaf[:]), formatPath(path), string(b.head.Note)}, err
}

// ProveGrowth proves that the book has grown from an old head, which somebody
// kept. Errors: ErrProof when that is no head of the house's key; ErrRewritten
// when the book has not grown from it.
func (b *Book) ProveGrowth(old []byte) (Growth, error) {
	fail := func(format string, a ...any) (Growth, error) {
		return Growth{}, fmt.Errorf("%s: %w: %s", b.dir, ErrRewritten, fmt.Sprintf(format, a...))
	}
	h, err := ParseHead(old, b.key)
	if err != nil {
		return Growth{}, fmt.Errorf("the head that was kept: %w", err)
	}
	if h.Origin != b.head.Origin {
		return fail("the head that was kept is of another book, %s", h.Origin)
	}
	if h.Size > b.Len() {
		return fail("the head that was kept has %d entries, and there are %d", h.Size, b.Len())
	}
	root, err := tlog.TreeHash(h.Size, b.hashes)
	if err != nil {
		return Growth{}, err
	}
	if root != h.Root {
		return fail("its first %d entries are not those of the head that was kept", h.Size)
	}
	var path tlog.TreeProof
	if h.Size > 0 {
		if path, err = tlog.ProveTree(b.Len(), h.Size, b.hashes); err != nil {
			return Growth{}, err
		}
	}
	return Growth{GrowthProof, proofVersion, formatPath(path), string(h.Note), string(b.head.Note)}, nil
}

// Proven is what a proof shows that holds.
type Proven struct {
	Kind string // InclusionProof or GrowthProof
	Head Head   // the head, or the new one
	// Of an inclusion.
	Index int64
	Leaf  tlog.Hash
	// Of growth.
	Old Head
}

// Verify checks a proof of either kind with the public key of the house alone.
// Errors: ErrProof with what does not hold.
func Verify(src []byte, key ed25519.PublicKey) (Proven, error) {
	fail := func(err error) (Proven, error) { return Proven{}, err }
	var kind struct {
		Proof string `json:"proof"`
	}
	if len(src) > maxProof {
		return fail(fmt.Errorf("%w: it has more than %d bytes", ErrProof, maxProof))
	}
	if err := json.Unmarshal(src, &kind); err != nil {
		return fail(fmt.Errorf("%w: %w", ErrProof, err))
	}
	switch kind.Proof {
	case InclusionProof:
		var p Inclusion
		if err := strict(src, &p); err != nil {
			return fail(err)
		}
		return p.Verify(key)
	case GrowthProof:
		var p Growth
		if err := strict(src, &p); err != nil {
			return fail(err)
		}
		return p.Verify(key)
	}
	return fail(fmt.Errorf("%w: proof %q is not known", ErrProof, kind.Proof))
}

// Verify checks the proof with the public key of the house. Errors: ErrProof.
func (p Inclusion) Verify(key ed25519.PublicKey) (Proven, error) {
	fail := func(err error) (Proven, error) { return Proven{}, fmt.Errorf("%w: %w", ErrProof, err) }
	if p.Proof != InclusionProof || p.Version != proofVersion {
		return fail(fmt.Errorf("proof %q of version %d is not known", p.Proof, p.Version))
	}
	h, err := ParseHead([]byte(p.Head), key)
	if err != nil {
		return Proven{}, err
	}
	leaf, err := parseHash(p.Leaf)
	if err != nil {
		return fail(err)
	}
	path, err := parsePath(p.Path)
	if err != nil {
		return fail(err)
	}
	if p.Index < 0 || p.Index >= h.Size {
		return fail(fmt.Errorf("entry %d of %d", p.Index, h.Size))
	}
	if err := tlog.CheckRecord(path, h.Size, h.Root, p.Index, leaf); err != nil {
		return fail(errors.New("the path does not lead from the entry to the root of the head"))
	}
	return Proven{Kind: InclusionProof, Head: h, Index: p.Index, Leaf: leaf}, nil
}

// Verify checks the proof with the public key of the house. Errors: ErrProof.
func (p Growth) Verify(key ed25519.PublicKey) (Proven, error) {
	fail := func(err error) (Proven, error) { return Proven{}, fmt.Errorf("%w: %w", ErrProof, err) }
	if p.Proof != GrowthProof || p.Version != proofVersion {
		return fail(fmt.Errorf("proof %q of version %d is not known", p.Proof, p.Version))
	}
	before, err := ParseHead([]byte(p.Old), key)
	if err != nil {
		return Proven{}, err
	}
	now, err := ParseHead([]byte(p.New), key)
	if err != nil {
		return Proven{}, err
	}
	path, err := parsePath(p.Path)
	if err != nil {
		return fail(err)
	}
	bad := errors.New("the path does not lead from the old root to the new one")
	switch {
	case before.Origin != now.Origin:
		return fail(errors.New("the heads are of two books"))
	case before.Size > now.Size:
		return fail(fmt.Errorf("from %d entries to %d is no growth", before.Size, now.Size))
	case before.Size == 0:
		if empty, _ := tlog.TreeHash(0, nil); before.Root != empty || len(path) > 0 || now.Size == 0 && now.Root != empty {
			return fail(bad)
		}
	default:
		if err := tlog.CheckTree(path, now.Size, now.Root, before.Size, before.Root); err != nil {
			return fail(bad)
		}
	}
	return Proven{Kind: GrowthProof, Head: now, Old: before}, nil
}

// Format is the proof as it is written.
func (p Inclusion) Format() []byte { return format(p) }

// Format is the proof as it is written.
func (p Growth) Format() []byte { return format(p) }

func format(v any) []byte {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(v); err != nil {
		panic(err) // texts and numbers alone
	}
	return b.Bytes()
}

// strict reads a proof that is written as format does.
func strict(src []byte, v any) error {
	if err := json.Unmarshal(src, v); err != nil {
		return fmt.Errorf("%w: %w", ErrProof, err)
	}
	if !bytes.Equal(format(v), src) {
		return fmt.Errorf("%w: it is not written as proofs are", ErrProof)
	}
	return nil
}

func formatPath(path []tlog.Hash) []string {
	list := make([]string, len(path))
	for i, h := range path {
		list[i] = hex.EncodeToString(h[:])
	}
	return list
}

func parsePath(list []string) ([]tlog.Hash, error) {
	path := make([]tlog.Hash, len(list))
	for i, s := range list {
		var err error
		if path[i], err = parseHash(s); err != nil {
			return nil, err
		}
	}
	return path, nil
}

func parseHash(s string) (tlog.Hash, error) {
	raw, err := hex.DecodeString(s)
	if err != nil || len(raw) != tlog.HashSize || hex.EncodeToString(raw) != s {
		return tlog.Hash{}, errors.New("a hash is no lower-case hex of 32 bytes")
	}
	return tlog.Hash(raw), nil
}
