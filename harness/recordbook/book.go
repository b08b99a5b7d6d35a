package recordbook

import (
	"bytes"
	"crypto"
	"crypto/ed25519"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"golang.org/x/mod/sumdb/tlog"

	"latchproof/harness/attest"
	"latchproof/harness/durable"
)

// Book is an open record book. It is not safe for use by several goroutines.
type Book struct {
	dir string
	contents
	seen map[tlog.Hash]int64 // index by leaf hash

	// Of a book that is open to append.
	signer crypto.Signer
	lock   *os.File // hashes, locked
	failed error    // why it cannot go on
}

// Names in the folder of a book.
const (
	keyName       = "house.pub"
	hashesName    = "hashes"
	entriesName   = "entries"
	headsName     = "heads"
	entrySuffix   = ".json"
	headSuffix    = ".head"
	entryTempName = ".entry.tmp"
	headTempName  = ".head.tmp"

	maxEntries  = 1_000_000
	maxEnvelope = attest.MaxEnvelope
	maxKey      = 4 << 10 // bytes
)

func entryName(i int64) string { return fmt.Sprintf("%08d%s", i, entrySuffix) }
func headName(n int64) string  { return fmt.Sprintf("%08d%s", n, headSuffix) }

// HeadFile is the file of the head of a size, in the book's folder.
func HeadFile(size int64) string { return filepath.Join(headsName, headName(size)) }

// Create makes an empty book of a house and opens it to append. The folder must
// not be there, or be empty; the book is in it whole or not at all. What is stopped
// on the way leaves at most a folder .recordbook-* beside it. Errors:
// ErrExists, ErrFull, those of Origin and of the system.
func Create(dir, house string, key crypto.Signer) (_ *Book, err error) {
	fail := func(err error) (*Book, error) { return nil, fmt.Errorf("%s: %w", dir, durable.Plain(err)) }
	if list, err := os.ReadDir(dir); err == nil && len(list) > 0 {
		return fail(ErrExists)
	} else if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fail(err)
	}
	origin, err := Origin(house)
	if err != nil {
		return fail(err)
	}
	pub, err := publicKey(key)
	if err != nil {
		return fail(err)
	}
	root, err := tlog.TreeHash(0, nil)
	if err != nil {
		return fail(err)
	}
	head, err := SignHead(origin, 0, root, key)
	if err != nil {
		return fail(err)
	}
	parent := filepath.Dir(filepath.Clean(dir))
	temp, err := os.MkdirTemp(parent, ".recordbook-*")
	if err != nil {
		return fail(err)
	}
	defer os.RemoveAll(temp)
	if err := fill(temp, []byte(attest.PublicPEM(pub)), head.Note); err != nil {
		return fail(err)
	}
	if err := os.Remove(dir); err != nil && !errors.Is(err, fs.ErrNotExist) { // it is empty
		return fail(err)
	}
	if err := os.Rename(temp, dir); err != nil {
		return fail(err)
	}
	if err := durable.SyncDir(parent); err != nil {
		return fail(err)
	}
	return OpenToAppend(dir, key)
}

// fill writes the files of an empty book.
func fill(dir string, key, head []byte) error {
	if err := os.Chmod(dir, 0o755); err != nil {
		return err
	}
	for _, d := range []string{entriesName, headsName} {
		if err := os.Mkdir(filepath.Join(dir, d), 0o777); err != nil {
			return err
		}
	}
	for _, f := range []struct {
		name string
		src  []byte
	}{{keyName, key}, {hashesName, nil}, {HeadFile(0), head}} {
		if err := durable.WriteNew(filepath.Join(dir, f.name), f.src); err != nil {
			return err
		}
	}
	for _, d := range []string{entriesName, headsName, "."} {
		if err := durable.SyncDir(filepath.Join(dir, d)); err != nil {
			return err
		}
	}
	return nil
}

// Open reads a book and checks all of it. Nothing is written. Errors: ErrNone, a
// *DamagedError, ErrBusy when it grows faster than it can be read, those of the
// system.
func Open(dir string) (*Book, error) {
	c, err := read(dir)
	if err != nil {
		return nil, err
	}
	return newBook(dir, c), nil
}

func newBook(dir string, c *contents) *Book {
	b := &Book{dir: dir, contents: *c, seen: map[tlog.Hash]int64{}}
	for _, e := range b.entries {
		b.seen[e.Leaf] = e.Index
	}
	return b
}

// OpenToAppend opens a book with the key of the house to append to it. It first
// puts in order what an interrupted append left; Notes tells of it. The book must
// be closed. Errors: ErrBusy, ErrKey, ErrFull, those of Open.
func OpenToAppend(dir string, key crypto.Signer) (_ *Book, err error) {
	pub, err := publicKey(key)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", dir, err)
	}
	f, err := lock(dir)
	if errors.Is(err, ErrDamaged) {
		return nil, err
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", dir, err)
	}
	defer func() {
		if err != nil {
			f.Close()
		}
	}()
	c, err := read(dir)
	if err != nil {
		return nil, err
	}
	if !pub.Equal(c.key) {
		return nil, fmt.Errorf("%s: %w", dir, ErrKey)
	}
	b := newBook(dir, c)
	b.signer, b.lock = key, f
	if err := b.repair(); err != nil {
		return nil, fmt.Errorf("%s: an interrupted append cannot be put in order: %w", dir, durable.Plain(err))
	}
	return b, nil
}

// lock opens the hashes to write, for this process alone.
func lock(dir string) (*os.File, error) {
	path := filepath.Join(dir, hashesName)
	info, err := os.Lstat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, ErrNone
	}
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, &DamagedError{Dir: dir, Findings: []Finding{{hashesName, "it is no regular file"}}}
	}
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return nil, err
	}
	if err := durable.Lock(f); err != nil {
		f.Close()
		if errors.Is(err, durable.ErrLocked) {
			err = ErrBusy
		}
		return nil, err
	}
	return f, nil
}

// Close ends appending. A book that is only read needs no Close, and may have one.
func (b *Book) Close() error {
	if b.lock == nil {
		return nil
	}
	f := b.lock
	b.lock, b.failed = nil, fs.ErrClosed
	return f.Close()
}

// Dir is the folder of the book.
func (b *Book) Dir() string { return b.dir }

// Key is the public key of the house.
func (b *Book) Key() ed25519.PublicKey { return slices.Clone(b.key) }

// Head is the newest signed head.
func (b *Book) Head() Head { return b.head }

// House is the name of the house.
func (b *Book) House() string {
	house, _ := House(b.head.Origin)
	return house
}

// Len is how many entries there are.
func (b *Book) Len() int64 { return b.head.Size }

// Entries are all entries in their order.
func (b *Book) Entries() []Entry { return slices.Clone(b.entries) }

// Entry is one entry. It is an error when there is none of the index.
func (b *Book) Entry(index int64) (Entry, error) {
	if index < 0 || index >= b.Len() {
		return Entry{}, fmt.Errorf("%s: there is no entry %d: the book has %d", b.dir, index, b.Len())
	}
	return b.entries[index], nil
}

// Find gives the index of a certificate.
func (b *Book) Find(envelope []byte) (index int64, ok bool) {
	index, ok = b.seen[LeafHash(envelope)]
	return index, ok
}

// Envelope reads the bytes of an entry's certificate.
func (b *Book) Envelope(index int64) ([]byte, error) {
	e, err := b.Entry(index)
	if err != nil {
		return nil, err
	}
	root, err := os.OpenRoot(b.dir)
	if err != nil {
		return nil, err
	}
	defer root.Close()
	src, what := readFile(root, entriesName+"/"+entryName(index), maxEnvelope)
	if what == "" && LeafHash(src) != e.Leaf {
		what = changedLeaf
	}
	if what != "" {
		return nil, &DamagedError{Dir: b.dir, Findings: []Finding{{entriesName + "/" + entryName(index), what}}}
	}
	return src, nil
}

// Notes say what an interrupted append left, and what became of it.
func (b *Book) Notes() []string { return slices.Clone(b.notes) }

// Check reads the book again and says whether it still is what was opened, or has
// grown from it. Errors: those of Open, ErrRewritten.
func (b *Book) Check() error {
	now, err := Open(b.dir)
	if err != nil {
		return err
	}
	if !bytes.Equal(now.key, b.key) {
		return fmt.Errorf("%s: %w: it has another key", b.dir, ErrRewritten)
	}
	_, err = now.ProveGrowth(b.head.Note)
	return err
}
