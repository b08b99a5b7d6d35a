package recordbook

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"golang.org/x/mod/sumdb/tlog"

	"latchproof/harness/attest"
	"latchproof/harness/durable"
)

// Append adds a certificate of the house and gives its index. It is on the disk,
// with a new head, when Append returns. Errors: *DuplicateError, ErrFull,
// ErrUnfinished with the reason, those of attest.Open and of the system. After
// ErrUnfinished the book must be opened again.
func (b *Book) Append(envelope []byte) (index int64, err error) {
	fail := func(err error) (int64, error) { return 0, fmt.Errorf("%s: %w", b.dir, durable.Plain(err)) }
	switch {
	case b.failed != nil:
		return fail(b.failed)
	case b.lock == nil:
		return fail(errors.New("the book is open to read only"))
	case len(envelope) > maxEnvelope:
		return fail(fmt.Errorf("the certificate has more than %d bytes", maxEnvelope))
	case b.Len() >= maxEntries:
		return fail(errors.New("the book is full"))
	}
	if at, ok := b.Find(envelope); ok {
		return fail(&DuplicateError{at})
	}
	c, err := attest.Open(envelope, b.key)
	if err != nil {
		return fail(err)
	}
	index = b.Len()
	path := filepath.Join(b.dir, entriesName, entryName(index))
	if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
		return fail(errors.Join(fmt.Errorf("%s: %w", path, ErrExists), err))
	}
	temp := filepath.Join(b.dir, entryTempName)
	if err := durable.WriteSynced(temp, envelope); err != nil {
		os.Remove(temp)
		return fail(err)
	}
	if err := os.Rename(temp, path); err != nil {
		os.Remove(temp)
		return fail(err)
	}
	e := Entry{Index: index, Leaf: LeafHash(envelope), States: c.Predicate}
	if err := b.finish(e); err != nil {
		b.failed = errors.Join(ErrUnfinished, err)
		return fail(b.failed)
	}
	return index, nil
}

// finish brings an entry that has its name into the tree and signs the head. It
// may be done again from the start wherever it was interrupted.
func (b *Book) finish(e Entry) error {
	if err := durable.SyncDir(filepath.Join(b.dir, entriesName)); err != nil {
		return err
	}
	add, err := tlog.StoredHashesForRecordHash(e.Index, e.Leaf, b.hashes)
	if err != nil {
		return err
	}
	var src []byte
	for _, h := range add {
		src = append(src, h[:]...)
	}
	at := int64(len(b.hashes)) * tlog.HashSize
	if _, err := b.lock.WriteAt(src, at); err != nil {
		return err
	}
	if err := b.lock.Truncate(at + int64(len(src))); err != nil {
		return err
	}
	if err := b.lock.Sync(); err != nil {
		return err
	}
	hashes := append(b.hashes, add...)
	root, err := tlog.TreeHash(e.Index+1, hashes)
	if err != nil {
		return err
	}
	head, err := SignHead(b.head.Origin, e.Index+1, root, b.signer)
	if err != nil {
		return err
	}
	temp, path := filepath.Join(b.dir, headTempName), filepath.Join(b.dir, HeadFile(head.Size))
	if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
		return errors.Join(fmt.Errorf("%s: %w", path, ErrExists), err)
	}
	if err := durable.WriteSynced(temp, head.Note); err != nil {
		os.Remove(temp)
		return err
	}
	if err := os.Rename(temp, path); err != nil {
		return err
	}
	if err := durable.SyncDir(filepath.Join(b.dir, headsName)); err != nil {
		return err
	}
	b.hashes, b.head, b.entries = hashes, head, append(b.entries, e)
	b.seen[e.Leaf] = e.Index
	return nil
}

// repair puts in order what an interrupted append left.
func (b *Book) repair() error {
	b.notes = nil
	for _, name := range b.temps {
		if err := os.Remove(filepath.Join(b.dir, name)); err != nil {
			return err
		}
		b.notes = append(b.notes, fmt.Sprintf("removed %s, which an interrupted append left", name))
	}
	if len(b.temps) > 0 {
		if err := durable.SyncDir(b.dir); err != nil {
			return err
		}
	}
	if b.pending == nil {
		return nil
	}
	c, err := attest.Open(b.pending, b.key)
	if err != nil {
		return err
	}
	e := Entry{Index: b.Len(), Leaf: LeafHash(b.pending), States: c.Predicate}
	if err := b.finish(e); err != nil {
		return err
	}
	b.pending = nil
	b.notes = append(b.notes, fmt.Sprintf("finished entry %d, whose append was interrupted", e.Index))
	return nil
}
