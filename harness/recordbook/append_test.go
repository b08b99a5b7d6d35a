package recordbook_test

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"golang.org/x/mod/sumdb/tlog"

	"latchproof/harness/recordbook"
)

var _ = Describe("an append", func() {
	It("adds files and hashes, and changes no byte that was there", func() {
		dir := newBook(0)
		before := files(dir)
		Expect(before).To(HaveLen(3))
		for n := 1; n <= 9; n++ {
			b := toAppend(dir)
			appendUpTo(b, n)
			Expect(b.Close()).To(Succeed())
			now := files(dir)
			Expect(now).To(HaveLen(len(before) + 2))
			for name, src := range before {
				if name == "hashes" {
					Expect(now[name][:len(src)]).To(Equal(src))
					Expect(now[name]).To(HaveLen(tlog.HashSize * int(tlog.StoredHashCount(int64(n)))))
				} else {
					Expect(now[name]).To(Equal(src), name)
				}
			}
			Expect(now[fmt.Sprintf("entries/%08d.json", n-1)]).To(Equal(nth(n - 1)))
			before = now
		}
	})
	It("refuses what the book has, with the index, and what the house did not sign", func() {
		dir := newBook(4)
		b := toAppend(dir)
		before := files(dir)
		_, err := b.Append(nth(2))
		Expect(err).To(And(MatchError(recordbook.ErrDuplicate), MatchError(HaveSuffix("the certificate is in the record book already: entry 2"))))
		_, err = b.Append(certificate(key("stranger"), 1, "first-lamp", "x", 1))
		Expect(err).To(MatchError(ContainSubstring("another key")))
		for _, bad := range [][]byte{nil, []byte("{}"), append(nth(5), '\n'), make([]byte, 9<<20)} {
			Expect(b.Append(bad)).Error().To(HaveOccurred())
		}
		Expect(equal(files(dir), before)).To(BeTrue())
		Expect(b.Append(nth(4))).To(BeEquivalentTo(4))
		index, ok := b.Find(nth(4))
		Expect(ok).To(BeTrue())
		Expect(index).To(BeEquivalentTo(4))
		Expect(b.Close()).To(Succeed())
		Expect(b.Append(nth(5))).Error().To(MatchError(os.ErrClosed))
		Expect(open(dir).Append(nth(5))).Error().To(MatchError(ContainSubstring("open to read only")))
	})
	It("is one writer's at a time, with the key of the house", func() {
		dir := newBook(1)
		b := toAppend(dir)
		Expect(recordbook.OpenToAppend(dir, houseKey)).Error().To(MatchError(recordbook.ErrBusy))
		open(dir)
		Expect(b.Close()).To(Succeed())
		Expect(recordbook.OpenToAppend(dir, key("stranger"))).Error().To(MatchError(recordbook.ErrKey))
		Expect(recordbook.OpenToAppend(dir, nil)).Error().To(MatchError(ContainSubstring("no key")))
		toAppend(dir)
	})
	It("can be read by others at every moment", func() {
		dir := newBook(2)
		done := make(chan error)
		n := 25
		if testing.Short() {
			n = 8
		}
		go func() {
			b, err := recordbook.OpenToAppend(dir, houseKey)
			for i := 2; err == nil && i < n; i++ {
				_, err = b.Append(nth(i))
			}
			done <- err
		}()
		before := open(dir)
		reads := 0
		for {
			select {
			case err := <-done:
				Expect(err).NotTo(HaveOccurred())
				Expect(open(dir).Len()).To(BeEquivalentTo(n))
				fmt.Fprintf(GinkgoWriter, "read %d times meanwhile\n", reads)
				return
			case <-time.After(time.Millisecond):
				b := open(dir)
				Expect(before.Check()).To(Succeed())
				_, err := b.ProveGrowth(before.Head().Note)
				Expect(err).NotTo(HaveOccurred())
				before = b
				reads++
			}
		}
	})
})

var _ = Describe("an append that was interrupted", func() {
	// Entry 7 completes three nodes.
	var before, after map[string][]byte
	var entry, hashes, head []byte
	const entryFile, headFile = "entries/00000007.json", "heads/00000008.head"
	BeforeEach(func() {
		before, after = files(newBook(7)), files(newBook(8))
		entry, head = after[entryFile], after[headFile]
		hashes = after["hashes"][len(before["hashes"]):]
		Expect(hashes).To(HaveLen(4 * tlog.HashSize))
	})
	// state is the book before, with some more.
	state := func(more map[string][]byte, tail []byte) map[string][]byte {
		s := maps.Clone(before)
		maps.Copy(s, more)
		s["hashes"] = append(before["hashes"][:len(before["hashes"]):len(before["hashes"])], tail...)
		return s
	}
	// ends checks what the book is, and what it becomes.
	ends := func(s, want map[string][]byte, note string) {
		GinkgoHelper()
		dir := write(s)
		b := open(dir)
		Expect(b.Len()).To(BeEquivalentTo(7))
		Expect(b.Notes()).NotTo(BeEmpty())
		Expect(equal(files(dir), s)).To(BeTrue(), "reading changes nothing")
		b = toAppend(dir)
		Expect(strings.Join(b.Notes(), "\n")).To(Equal(note))
		Expect(equal(files(dir), want)).To(BeTrue())
		Expect(open(dir).Notes()).To(BeEmpty())
		appendUpTo(b, 9)
		Expect(b.Check()).To(Succeed())
		Expect(b.Close()).To(Succeed())
		Expect(toAppend(dir).Notes()).To(BeEmpty())
	}

	It("leaves the book before when the entry has no name yet", func() {
		for _, part := range [][]byte{nil, entry[:100], entry, make([]byte, 10)} {
			ends(state(map[string][]byte{".entry.tmp": part}, nil), before, "removed .entry.tmp, which an interrupted append left")
		}
	})
	It("is finished when the entry has its name, to the very bytes of one that was not interrupted", func() {
		finished := "finished entry 7, whose append was interrupted"
		named := map[string][]byte{entryFile: entry}
		for _, n := range []int{0, 1, 31, 32, 33, 64, 100, 127, 128} {
			ends(state(named, hashes[:n]), after, finished)
		}
		ends(state(named, make([]byte, 128)), after, finished) // a loss of power before they were synced
		for _, part := range [][]byte{nil, head[:20], head} {
			ends(state(map[string][]byte{entryFile: entry, ".head.tmp": part}, hashes), after, "removed .head.tmp, which an interrupted append left\n"+finished)
		}
	})
	It("is the book after when the head has its name", func() {
		dir := write(state(map[string][]byte{entryFile: entry, headFile: head}, hashes))
		Expect(toAppend(dir).Notes()).To(BeEmpty())
		Expect(equal(files(dir), after)).To(BeTrue())
	})
	It("never excuses what no append leaves", func() {
		for name, s := range map[string]map[string][]byte{
			"bytes without an entry":    state(nil, hashes[:32]),
			"a byte without an entry":   state(nil, []byte{1}),
			"more than an append":       state(map[string][]byte{entryFile: entry}, append(hashes, 1)),
			"an entry that is hurt":     state(map[string][]byte{entryFile: append([]byte(" "), entry...)}, nil),
			"an entry that is not ours": state(map[string][]byte{entryFile: certificate(key("stranger"), 1, "a", "b", 1)}, nil),
			"an entry twice":            state(map[string][]byte{entryFile: nth(3)}, nil),
			"a head without hashes":     state(map[string][]byte{entryFile: entry, headFile: head}, nil),
			"a head without an entry":   state(map[string][]byte{headFile: head}, hashes),
		} {
			dir := write(s)
			Expect(recordbook.Open(dir)).Error().To(MatchError(recordbook.ErrDamaged), name)
			Expect(recordbook.OpenToAppend(dir, houseKey)).Error().To(MatchError(recordbook.ErrDamaged), name)
			Expect(equal(files(dir), s)).To(BeTrue(), name)
		}
	})
	It("by an error says so, and is finished when the book is opened again", func() {
		dir := write(before)
		b := toAppend(dir)
		hinder := filepath.Join(dir, ".head.tmp")
		Expect(os.Mkdir(hinder, 0o777)).To(Succeed())
		_, err := b.Append(nth(7))
		Expect(err).To(MatchError(recordbook.ErrUnfinished))
		_, err = b.Append(nth(8))
		Expect(err).To(MatchError(recordbook.ErrUnfinished))
		Expect(b.Len()).To(BeEquivalentTo(7))
		Expect(b.Close()).To(Succeed())
		os.Remove(hinder)
		Expect(toAppend(dir).Notes()).To(ConsistOf("finished entry 7, whose append was interrupted"))
		Expect(equal(files(dir), after)).To(BeTrue())
	})
	It("by an error before the entry has its name leaves nothing, and may be tried again", func() {
		dir := write(before)
		b := toAppend(dir)
		hinder := filepath.Join(dir, ".entry.tmp")
		Expect(os.MkdirAll(filepath.Join(hinder, "x"), 0o777)).To(Succeed())
		_, err := b.Append(nth(7))
		Expect(err).To(HaveOccurred())
		Expect(err).NotTo(MatchError(recordbook.ErrUnfinished))
		Expect(os.RemoveAll(hinder)).To(Succeed())
		Expect(b.Append(nth(7))).To(BeEquivalentTo(7))
		Expect(equal(files(dir), after)).To(BeTrue())
	})
})
