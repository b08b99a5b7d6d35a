package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"latchproof/harness/attest"
	"latchproof/harness/bundle"
	"latchproof/harness/decision"
	"latchproof/harness/recordbook"
)

// certified enters certificates into a book, a second apart. In the submitter's
// name \u009b and \u202e stand for these characters. Beside the book stands a bundle
// of each, BOOK.INDEX.bundle.
func certified(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 5 {
		ts.Fatalf("usage: certified BOOK KEY CATEGORY BY FRAMES...")
	}
	dir := ts.MkAbs(args[0])
	key, err := attest.LoadKey(ts.MkAbs(args[1]), nil)
	ts.Check(err)
	b, err := recordbook.OpenToAppend(dir, key)
	if errors.Is(err, recordbook.ErrNone) {
		b, err = recordbook.Create(dir, "Linden Street", key)
	}
	ts.Check(err)
	defer b.Close()
	by := strings.NewReplacer(`\u009b`, "\u009b", `\u202e`, "\u202e").Replace(args[3])
	for _, s := range args[4:] {
		frames, err := strconv.ParseInt(s, 10, 64)
		ts.Check(err)
		hash := strings.Repeat("0a", 32)
		standing, before := decision.First, (*attest.PredicateBefore)(nil)
		if best := b.Best(args[2], b.Len()); best != nil {
			before = best.Before()
			standing = decision.Stand(frames, &decision.Before{Frames: before.Frames})
		}
		envelope, err := attest.Sign(key, []attest.Subject{{Name: "decision.json", SHA256: hash}}, attest.Predicate{
			Claim:     attest.PredicateClaim{Name: "reaches the lamp", By: by, Category: args[2], Frames: frames, ProgramHash: hash},
			House:     attest.PredicateHouse{Name: "Linden Street", Repeats: 1, Lockstep: 1, Benches: 1, Ties: "earlier"},
			Measured:  attest.PredicateTime{Frames: frames, Low: frames, High: frames, Seconds: float64(frames) / 60},
			Standing:  string(standing),
			Before:    before,
			Benches:   []attest.PredicateBench{{Name: "bench", Runs: []string{"runs/bench/run-001"}, Lockstep: 1}},
			Versions:  map[string]string{"latchproof": version},
			Certified: time.Date(2026, 4, 1, 0, 0, int(b.Len()), 0, time.UTC).Format(time.RFC3339),
		})
		ts.Check(err)
		index, err := b.Append(envelope)
		ts.Check(err)
		f, err := os.Create(fmt.Sprintf("%s.%d.bundle", filepath.Clean(dir), index))
		ts.Check(err)
		ts.Check(bundle.Write(f, []bundle.File{bundle.Bytes("certificate.json", envelope), bundle.Bytes("decision.json", []byte("{}"))}))
		ts.Check(f.Close())
	}
}
