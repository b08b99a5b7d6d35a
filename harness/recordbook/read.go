package recordbook

import (
	"crypto/ed25519"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/tlog"

	"latchproof/harness/attest"
)

// contents is what the files of a book hold.
type contents struct {
	key     ed25519.PublicKey
	head    Head // the newest
	entries []Entry
	hashes  stored
	notes   []string

	temps   []string // temporary files that an append left
	pending []byte   // the entry after the last that has a head; nil for none
}

// stored are the hashes of the tree in the order of the file (tlog.HashReader).
type stored []tlog.Hash

// ReadHashes gives hashes by their place.
func (s stored) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	list := make([]tlog.Hash, len(indexes))
	for i, x := range indexes {
		if x < 0 || x >= int64(len(s)) {
			return nil, fmt.Errorf("there is no hash %d", x)
		}
		list[i] = s[x]
	}
	return list, nil
}

const changedLeaf = "it does not have the hash that was written for it"

// tries is how often a book that grows meanwhile is read again.
const tries = 20

// read reads a book. One that another process appends to is read as it was at one
// moment.
func read(dir string) (*contents, error) {
	root, err := os.OpenRoot(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s: %w", dir, ErrNone)
	}
	if err != nil {
		return nil, err
	}
	defer root.Close()
	if _, err := root.Lstat(headsName); errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s: %w", dir, ErrNone)
	}
	for range tries {
		r := reader{root: root, damage: &DamagedError{Dir: dir}}
		size := r.size()
		r.all(size)
		if again := (reader{root: root, damage: &DamagedError{}}).size(); again > size {
			continue
		}
		if len(r.damage.Findings) > 0 {
			return nil, r.damage
		}
		return &r.contents, nil
	}
	return nil, fmt.Errorf("%s: %w: it grows faster than it can be read", dir, ErrBusy)
}

type reader struct {
	root   *os.Root
	damage *DamagedError
	contents
}

// size is that of the newest head, -1 when there is none.
func (r reader) size() int64 {
	size := int64(-1)
	for _, name := range r.names(headsName) {
		if n, ok := number(name, headSuffix); ok {
			size = max(size, n)
		}
	}
	return size
}

// number is what a name of an entry or a head counts.
func number(name, suffix string) (int64, bool) {
	digits, ok := strings.CutSuffix(name, suffix)
	n, err := strconv.ParseUint(digits, 10, 63)
	return int64(n), ok && err == nil && fmt.Sprintf("%08d", n) == digits && n <= maxEntries
}

// names are those in a folder of the book.
func (r reader) names(folder string) []string {
	f, err := r.root.Open(folder)
	if err != nil {
		r.damage.add(folder, "%s", plain(err))
		return nil
	}
	defer f.Close()
	list, err := f.Readdirnames(-1)
	if err != nil {
		r.damage.add(folder, "%s", plain(err))
	}
	return list
}

// all reads and checks the book of a size, and that there is nothing else.
func (r *reader) all(size int64) {
	if size < 0 {
		r.damage.add(headsName, "there is no tree head")
		return
	}
	src, what := readFile(r.root, keyName, maxKey)
	if what == "" {
		var err error
		if r.key, err = attest.ParsePublic(string(src)); err != nil {
			what = err.Error()
		}
	}
	if what != "" {
		r.damage.add(keyName, "%s", what)
		return
	}
	if !r.signs(size) {
		r.damage.add(keyName, "no tree head is signed with it")
	}
	tail := r.readHashes(size)
	r.readEntries(size)
	r.checkNodes(size)
	r.readHeads(size)
	r.foreign(size)
	r.left(size, tail)
}

// signs says whether any head is signed with the key.
func (r *reader) signs(size int64) bool {
	for n := range size + 1 {
		src, what := readFile(r.root, headsName+"/"+headName(n), maxHead)
		if _, err := ParseHead(src, r.key); what == "" && err == nil {
			return true
		}
		if n == most {
			break
		}
	}
	return false
}

// readHashes reads the hashes of a book of a size and gives what stands after
// them.
func (r *reader) readHashes(size int64) (tail []byte) {
	want := tlog.StoredHashCount(size) * tlog.HashSize
	most := tlog.StoredHashCount(size+1) * tlog.HashSize
	src, what := readFile(r.root, hashesName, most)
	if what == "" && int64(len(src)) < want {
		what = fmt.Sprintf("it has %d bytes of %d", len(src), want)
	}
	if what != "" {
		r.damage.add(hashesName, "%s", what)
	}
	whole := min(int64(len(src))/tlog.HashSize*tlog.HashSize, want)
	for i := int64(0); i < whole; i += tlog.HashSize {
		r.hashes = append(r.hashes, tlog.Hash(src[i:]))
	}
	return src[whole:]
}

// readEntries reads the certificates and holds them against their leaf hashes.
func (r *reader) readEntries(size int64) {
	seen := map[tlog.Hash]int64{}
	for i := range size {
		place := entriesName + "/" + entryName(i)
		src, what := readFile(r.root, place, maxEnvelope)
		if what != "" {
			r.damage.add(place, "%s", what)
			if len(r.damage.Findings) == most {
				return // a head may speak of a million entries
			}
			continue
		}
		e := Entry{Index: i, Leaf: LeafHash(src)}
		if at := tlog.StoredHashIndex(0, i); at < int64(len(r.hashes)) && r.hashes[at] != e.Leaf {
			if r.signed(e) {
				r.damage.add(hashesName, "hash %d (bytes %d to %d) is not that of entry %d", at, at*tlog.HashSize, (at+1)*tlog.HashSize-1, i)
				r.hashes[at] = e.Leaf
			} else {
				r.damage.add(place, "%s", changedLeaf)
			}
		}
		if before, ok := seen[e.Leaf]; ok {
			r.damage.add(place, "it is entry %d again", before)
		}
		seen[e.Leaf] = i
		if c, err := attest.Open(src, r.key); err != nil {
			r.damage.add(place, "%v", err)
		} else {
			e.States = c.Predicate
		}
		r.entries = append(r.entries, e)
	}
}

// signed says whether the head that came with an entry speaks of this very entry,
// if the hashes before it are right.
func (r *reader) signed(e Entry) bool {
	src, what := readFile(r.root, headsName+"/"+headName(e.Index+1), maxHead)
	if what != "" {
		return false
	}
	h, err := ParseHead(src, r.key)
	if err != nil || h.Size != e.Index+1 {
		return false
	}
	before := r.hashes[:tlog.StoredHashIndex(0, e.Index)]
	add, err := tlog.StoredHashesForRecordHash(e.Index, e.Leaf, before)
	if err != nil {
		return false
	}
	root, err := tlog.TreeHash(h.Size, append(slices.Clone(before), add...))
	return err == nil && root == h.Root
}

// checkNodes holds every node against the two below it.
func (r *reader) checkNodes(size int64) {
	for at := range int64(len(r.hashes)) {
		level, n := tlog.SplitStoredHashIndex(at)
		if level == 0 {
			continue
		}
		below, err := r.hashes.ReadHashes([]int64{tlog.StoredHashIndex(level-1, 2*n), tlog.StoredHashIndex(level-1, 2*n+1)})
		if err != nil || tlog.NodeHash(below[0], below[1]) != r.hashes[at] {
			r.damage.add(hashesName, "hash %d (bytes %d to %d) is not that of the two below it", at, at*tlog.HashSize, (at+1)*tlog.HashSize-1)
		}
	}
}

// readHeads checks the head of every size.
func (r *reader) readHeads(size int64) {
	for n := range size + 1 {
		place := headsName + "/" + headName(n)
		src, what := readFile(r.root, place, maxHead)
		var h Head
		if what == "" {
			var err error
			if h, err = ParseHead(src, r.key); err != nil {
				what = err.Error()
			}
		}
		if what == "" {
			root, err := tlog.TreeHash(n, r.hashes)
			switch {
			case h.Size != n:
				what = fmt.Sprintf("it is the head of %d entries", h.Size)
			case n > 0 && r.head.Origin != "" && h.Origin != r.head.Origin:
				what = "it is of another book than the heads before"
			case err == nil && h.Root != root:
				what = "its root is not that of the hashes"
			}
		}
		if what != "" {
			r.damage.add(place, "%s", what)
			if len(r.damage.Findings) == most {
				return
			}
			continue
		}
		r.head = h
	}
}

// readFile reads a regular file of at most so many bytes; what says why it
// cannot.
func readFile(root *os.Root, name string, limit int64) (src []byte, what string) {
	info, err := root.Lstat(name)
	if err != nil {
		return nil, plain(err)
	}
	if !info.Mode().IsRegular() {
		return nil, "it is no regular file"
	}
	f, err := root.Open(name)
	if err != nil {
		return nil, plain(err)
	}
	defer f.Close()
	src, err = io.ReadAll(io.LimitReader(f, limit+1))
	switch {
	case err != nil:
		return nil, plain(err)
	case int64(len(src)) > limit:
		return src[:limit], fmt.Sprintf("it has more than %d bytes", limit)
	}
	return src, ""
}

// plain is an error without the path, which stands before it.
func plain(err error) string {
	var p *fs.PathError
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return "it is missing"
	case errors.As(err, &p):
		return p.Err.Error()
	}
	return err.Error()
}
