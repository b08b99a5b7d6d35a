package recordbook

import (
	"fmt"
	"slices"

	"latchproof/harness/attest"
)

// foreign finds what lies in the folder and is no part of a book of the size.
func (r *reader) foreign(size int64) {
	for _, name := range r.sorted(".") {
		switch name {
		case keyName, hashesName, entriesName, headsName:
		case entryTempName, headTempName:
			r.temps = append(r.temps, name)
			if info, err := r.root.Lstat(name); err == nil && !info.Mode().IsRegular() {
				r.damage.add(name, "it is no regular file")
			}
		default:
			r.damage.add(name, "%s", notOurs)
		}
	}
	for _, name := range r.sorted(headsName) {
		if n, ok := number(name, headSuffix); !ok || n > size {
			r.damage.add(headsName+"/"+name, "%s", notOurs)
		}
	}
	for _, name := range r.sorted(entriesName) {
		n, ok := number(name, entrySuffix)
		switch {
		case !ok || n > size:
			r.damage.add(entriesName+"/"+name, "%s", notOurs)
		case n == size:
			r.readPending(n)
		}
	}
}

const notOurs = "it is no part of the record book"

func (r *reader) sorted(folder string) []string {
	list := r.names(folder)
	slices.Sort(list)
	return list
}

// readPending reads an entry that has its name and no head. It was whole before it
// got its name.
func (r *reader) readPending(n int64) {
	place := entriesName + "/" + entryName(n)
	src, what := readFile(r.root, place, maxEnvelope)
	if what == "" {
		if _, err := attest.Open(src, r.key); err != nil {
			what = err.Error()
		}
	}
	leaf := LeafHash(src)
	for _, e := range r.entries {
		if what == "" && e.Leaf == leaf {
			what = fmt.Sprintf("it is entry %d again", e.Index)
		}
	}
	if what != "" {
		r.damage.add(place, "%s", what)
		return
	}
	r.pending = src
}

// left tells what an append leaves that was interrupted, or is under way. The
// bytes after the last hash may be anything then: a loss of power can leave them
// unwritten.
func (r *reader) left(size int64, tail []byte) {
	for _, name := range r.temps {
		r.notes = append(r.notes, fmt.Sprintf("%s is left of an append that is under way or was interrupted; it is no part of the book", name))
	}
	if r.pending != nil {
		r.notes = append(r.notes, fmt.Sprintf("%s/%s has no tree head yet: its append is under way, or was interrupted and is finished when the book is next opened to append", entriesName, entryName(size)))
	} else if len(tail) > 0 && len(r.damage.Findings) == 0 {
		r.damage.add(hashesName, "%d bytes stand after the last hash", len(tail))
	}
}
