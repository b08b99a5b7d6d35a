package recordbook_test

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/recordbook"
)

const changesVariable = "RECORDBOOK_CHANGES" // how many random changes are tried; some when not set

// change makes one random change to the files of a book and says which, and in
// which file.
func change(r *rand.Rand, all map[string][]byte) (what, name string) {
	names := slices.Sorted(maps.Keys(all))
	name = names[r.IntN(len(names))]
	src := bytes.Clone(all[name])
	for len(src) == 0 {
		name = names[r.IntN(len(names))]
		src = bytes.Clone(all[name])
	}
	at := r.IntN(len(src))
	switch r.IntN(9) {
	case 0, 1:
		src[at] ^= 1 << r.IntN(8)
		what = fmt.Sprintf("a bit of byte %d", at)
	case 2:
		src[at] += byte(1 + r.IntN(255))
		what = fmt.Sprintf("byte %d", at)
	case 3:
		src = slices.Insert(src, at, byte(r.IntN(256)))
		what = fmt.Sprintf("a byte more at %d", at)
	case 4:
		src = append(src, byte(r.IntN(256)))
		what = "a byte more at the end"
	case 5:
		src = slices.Delete(src, at, at+1)
		what = fmt.Sprintf("byte %d less", at)
	case 6:
		src = src[:at]
		what = fmt.Sprintf("cut to %d bytes", at)
	case 7: // two stretches change places
		n := 1 + r.IntN(len(src)/2)
		a, b := r.IntN(len(src)-2*n+1), 0
		b = a + n + r.IntN(len(src)-a-2*n+1)
		for i := range n {
			src[a+i], src[b+i] = src[b+i], src[a+i]
		}
		what = fmt.Sprintf("%d bytes at %d and %d exchanged", n, a, b)
	case 8: // another file's contents
		other := names[r.IntN(len(names))]
		src = bytes.Clone(all[other])
		what = "the contents of " + other
	}
	if bytes.Equal(src, all[name]) {
		return change(r, all)
	}
	all[name] = src
	return what, name
}

var _ = Describe("damage", func() {
	findings := func(dir string) []recordbook.Finding {
		GinkgoHelper()
		_, err := recordbook.Open(dir)
		Expect(err).To(MatchError(recordbook.ErrDamaged))
		var d *recordbook.DamagedError
		Expect(errors.As(err, &d)).To(BeTrue())
		return d.Findings
	}
	places := func(dir string) (list []string) {
		GinkgoHelper()
		for _, f := range findings(dir) {
			list = append(list, f.Place)
		}
		return list
	}

	It("is found wherever a byte is changed, with the place", func() {
		changes := 500
		if testing.Short() {
			changes = 100
		}
		if s := os.Getenv(changesVariable); s != "" {
			var err error
			changes, err = strconv.Atoi(s)
			Expect(err).NotTo(HaveOccurred())
		}
		dir := newBook(6)
		sound := files(dir)
		r := rand.New(rand.NewPCG(7, 1))
		most := 0
		for i := range changes {
			all := maps.Clone(sound)
			what, name := change(r, all)
			Expect(os.WriteFile(filepath.Join(dir, name), all[name], 0o666)).To(Succeed())
			list := places(dir)
			Expect(list).To(ContainElement(name), "change %d: %s of %s", i, what, name)
			most = max(most, len(list))
			Expect(os.WriteFile(filepath.Join(dir, name), sound[name], 0o666)).To(Succeed())
		}
		open(dir)
		fmt.Fprintf(GinkgoWriter, "%d changes; at most %d places told for one\n", changes, most)
	})
	It("is a file that is missing, or one too many, but what an append leaves", func() {
		dir := newBook(4)
		sound := files(dir)
		for name, src := range sound {
			Expect(os.Remove(filepath.Join(dir, name))).To(Succeed())
			if name == "heads/00000004.head" {
				// As if the last append had been interrupted: the same head comes again.
				b := open(dir)
				Expect(b.Len()).To(BeEquivalentTo(3))
				Expect(b.Notes()).To(ConsistOf(ContainSubstring("entries/00000003.json has no tree head yet")))
				Expect(toAppend(dir).Close()).To(Succeed())
				Expect(equal(files(dir), sound)).To(BeTrue())
				continue
			}
			Expect(places(dir)).To(ContainElement(name))
			Expect(os.WriteFile(filepath.Join(dir, name), src, 0o666)).To(Succeed())
		}
		for _, name := range []string{
			"x", "entries/4.json", "entries/00000005.json", "entries/00000004.JSON", "entries/-0000001.json", "entries/00000004", "heads/00000004", "heads/x",
			"heads/00000004.head.", "heads/10000000.head", ".entry.tmp~", "hashes.old", "entries/.entry.tmp",
		} {
			path := filepath.Join(dir, name)
			Expect(os.WriteFile(path, []byte("x"), 0o666)).To(Succeed())
			Expect(findings(dir)).To(ConsistOf(recordbook.Finding{Place: name, What: "it is no part of the record book"}))
			Expect(os.Remove(path)).To(Succeed())
		}
		// A head of a size that the book does not have.
		Expect(os.WriteFile(filepath.Join(dir, "heads/00000009.head"), sound["heads/00000004.head"], 0o666)).To(Succeed())
		Expect(places(dir)).To(ContainElements("heads/00000009.head", "entries/00000004.json", "hashes"))
		Expect(os.Rename(filepath.Join(dir, "heads/00000009.head"), filepath.Join(dir, "heads/00999999.head"))).To(Succeed())
		Expect(len(places(dir))).To(Equal(20))
	})
	It("is told once where one place tells it all", func() {
		dir := newBook(4)
		sound := files(dir)
		hurt := func(name string, src []byte) {
			GinkgoHelper()
			Expect(os.WriteFile(filepath.Join(dir, name), src, 0o666)).To(Succeed())
			DeferCleanup(os.WriteFile, filepath.Join(dir, name), sound[name], os.FileMode(0o666))
		}
		// A certificate that the house signed, but later.
		hurt("entries/00000002.json", nth(40))
		Expect(findings(dir)).To(ConsistOf(recordbook.Finding{Place: "entries/00000002.json", What: "it does not have the hash that was written for it"}))
		Expect(recordbook.Open(dir)).Error().To(MatchError(dir + ": the record book is damaged: entries/00000002.json: it does not have the hash that was written for it"))
		Expect(recordbook.OpenToAppend(dir, houseKey)).Error().To(MatchError(recordbook.ErrDamaged))
		hurt("entries/00000002.json", sound["entries/00000002.json"])
		open(dir)
	})
	It("is a link, a pipe or a folder in the place of a file", func() {
		dir := newBook(3)
		for name, src := range files(dir) {
			path := filepath.Join(dir, name)
			Expect(os.Remove(path)).To(Succeed())
			elsewhere := filepath.Join(GinkgoT().TempDir(), "x")
			Expect(os.WriteFile(elsewhere, src, 0o666)).To(Succeed())
			Expect(os.Symlink(elsewhere, path)).To(Succeed())
			Expect(findings(dir)).To(ContainElement(recordbook.Finding{Place: name, What: "it is no regular file"}))
			Expect(recordbook.OpenToAppend(dir, houseKey)).Error().To(MatchError(recordbook.ErrDamaged))
			Expect(os.Remove(path)).To(Succeed())
			Expect(os.Mkdir(path, 0o777)).To(Succeed())
			Expect(findings(dir)).To(ContainElement(recordbook.Finding{Place: name, What: "it is no regular file"}))
			Expect(os.Remove(path)).To(Succeed())
			Expect(os.WriteFile(path, src, 0o666)).To(Succeed())
		}
		open(dir)
	})
	It("is found when the book is open", func() {
		dir := newBook(3)
		b := toAppend(dir)
		Expect(b.Check()).To(Succeed())
		path := filepath.Join(dir, "entries", "00000001.json")
		Expect(os.WriteFile(path, nth(9), 0o666)).To(Succeed())
		Expect(b.Check()).To(MatchError(recordbook.ErrDamaged))
		Expect(b.Envelope(1)).Error().To(MatchError(recordbook.ErrDamaged))
		Expect(b.Envelope(3)).Error().To(MatchError(ContainSubstring("there is no entry 3: the book has 3")))
	})
	It("is not a folder without a book", func() {
		Expect(recordbook.Open(GinkgoT().TempDir())).Error().To(MatchError(recordbook.ErrNone))
		Expect(recordbook.OpenToAppend(GinkgoT().TempDir(), houseKey)).Error().To(MatchError(recordbook.ErrNone))
		Expect(recordbook.Open(filepath.Join(GinkgoT().TempDir(), "none"))).Error().To(MatchError(recordbook.ErrNone))
	})
})
