package recordbook

import (
	"cmp"
	"encoding/hex"
	"slices"

	"golang.org/x/mod/sumdb/tlog"

	"latchproof/harness/attest"
)

// Entry is a certificate in the book.
type Entry struct {
	Index int64     // from 0
	Leaf  tlog.Hash // RFC 6962 leaf hash of the envelope's bytes
	// States is what the certificate states. Its texts are the submitter's.
	States attest.Predicate
}

// LeafHash is the RFC 6962 leaf hash of an envelope.
func LeafHash(envelope []byte) tlog.Hash { return tlog.RecordHash(envelope) }

// Before is the entry as a later certificate speaks of it.
func (e Entry) Before() *attest.PredicateBefore {
	return &attest.PredicateBefore{
		Index: e.Index, Frames: e.States.Measured.Frames, By: e.States.Claim.By, Leaf: hex.EncodeToString(e.Leaf[:]),
	}
}

// Place is the best of a category.
type Place struct {
	Category string
	Best     Entry
	// Ties are the later entries with as many frames: the earlier keeps the place.
	Ties []Entry
}

// Places are the best of each category, by its name, of entries in the order of
// the book.
func Places(entries []Entry) []Place {
	at := map[string]int{}
	var list []Place
	for _, e := range entries {
		c := e.States.Claim.Category
		i, ok := at[c]
		if !ok {
			at[c] = len(list)
			list = append(list, Place{Category: c, Best: e})
			continue
		}
		switch p := &list[i]; {
		case e.States.Measured.Frames < p.Best.States.Measured.Frames:
			p.Best, p.Ties = e, nil
		case e.States.Measured.Frames == p.Best.States.Measured.Frames:
			p.Ties = append(p.Ties, e)
		}
	}
	slices.SortFunc(list, func(a, b Place) int { return cmp.Compare(a.Category, b.Category) })
	return list
}

// Best is the best of a category among the first size entries of the book, nil
// when there is none. It is what an entry of the index size was held against.
func (b *Book) Best(category string, size int64) *Entry {
	for _, p := range Places(b.entries[:min(max(size, 0), b.Len())]) {
		if p.Category == category {
			return &p.Best
		}
	}
	return nil
}
