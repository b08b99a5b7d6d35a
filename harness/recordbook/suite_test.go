package recordbook_test

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"golang.org/x/mod/sumdb/tlog"

	"latchproof/harness/attest"
	"latchproof/harness/recordbook"
)

// TestMain lets the test be the process that is killed while it appends.
func TestMain(m *testing.M) {
	if dir := os.Getenv(appenderVariable); dir != "" {
		os.Exit(appender(dir))
	}
	os.Exit(m.Run())
}

func TestRecordbook(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "record book")
}

const house = "Linden Street"

// key is a key that follows from a word, so that a test is the same every time.
func key(word string) ed25519.PrivateKey {
	seed := sha256.Sum256([]byte(word))
	return ed25519.NewKeyFromSeed(seed[:])
}

var (
	houseKey = key("house")
	housePub = houseKey.Public().(ed25519.PublicKey)
)

// certificate is one of somebody who needed so many frames in a category.
func certificate(k ed25519.PrivateKey, n int, category, by string, frames int64) []byte {
	hash := fmt.Sprintf("%x", sha256.Sum256([]byte(by)))
	src, err := attest.Sign(k, []attest.Subject{{Name: "decision.json", SHA256: hash}}, attest.Predicate{
		Claim:    attest.PredicateClaim{Name: "reaches the lamp", By: by, Category: category, Frames: frames, ProgramHash: hash},
		House:    attest.PredicateHouse{Name: house, Repeats: 5, Lockstep: 5, Benches: 1, Ties: "earlier"},
		Measured: attest.PredicateTime{Frames: frames, Low: frames, High: frames, Seconds: float64(frames) / 60},
		Standing: "first",
		Benches:  []attest.PredicateBench{{Name: "bench", Runs: []string{"runs/bench/run-001"}, Lockstep: 1}},
		Frames:   9000,
		Versions: map[string]string{"latchproof": "0.1.0"},
		// A second apart, so that no two are the same.
		Certified: time.Date(2026, 4, 1, 0, 0, n, 0, time.UTC).Format(time.RFC3339),
	})
	if err != nil {
		panic(err)
	}
	return src
}

// nth is the certificate with which the books of the tests go on.
func nth(n int) []byte {
	return certificate(houseKey, n, []string{"first-lamp", "all-lamps"}[n%2], fmt.Sprintf("runner %d", n), int64(900-n/3))
}

// longest is what the books of newBook begin: each append waits for the disk, and
// a book follows from its key and entries.
var longest map[string][]byte

const most = 13

// newBook makes a book of at most 13 entries in a new folder, closed.
func newBook(n int) string {
	GinkgoHelper()
	if longest == nil {
		dir := filepath.Join(GinkgoT().TempDir(), "book")
		b, err := recordbook.Create(dir, house, houseKey)
		Expect(err).NotTo(HaveOccurred())
		appendUpTo(b, most)
		Expect(b.Close()).To(Succeed())
		longest = files(dir)
	}
	all := maps.Clone(longest)
	for i := n; i < most; i++ {
		delete(all, fmt.Sprintf("entries/%08d.json", i))
		delete(all, recordbook.HeadFile(int64(i+1)))
	}
	all["hashes"] = all["hashes"][:tlog.StoredHashCount(int64(n))*tlog.HashSize]
	return write(all)
}

func appendUpTo(b *recordbook.Book, n int) {
	GinkgoHelper()
	for i := int(b.Len()); i < n; i++ {
		index, err := b.Append(nth(i))
		Expect(err).NotTo(HaveOccurred())
		Expect(index).To(BeEquivalentTo(i))
	}
}

// open opens a book to read.
func open(dir string) *recordbook.Book {
	GinkgoHelper()
	b, err := recordbook.Open(dir)
	Expect(err).NotTo(HaveOccurred())
	return b
}

// toAppend opens a book to append, until the test ends.
func toAppend(dir string) *recordbook.Book {
	GinkgoHelper()
	b, err := recordbook.OpenToAppend(dir, houseKey)
	Expect(err).NotTo(HaveOccurred())
	DeferCleanup(b.Close)
	return b
}

// files are all files of a folder by their path in it.
func files(dir string) map[string][]byte {
	GinkgoHelper()
	root := os.DirFS(dir)
	found := map[string][]byte{}
	Expect(walk(root, func(name string, src []byte) { found[name] = src })).To(Succeed())
	return found
}

// write writes files into a new folder.
func write(all map[string][]byte) string {
	GinkgoHelper()
	dir := GinkgoT().TempDir()
	for _, d := range []string{"entries", "heads"} {
		Expect(os.MkdirAll(filepath.Join(dir, d), 0o777)).To(Succeed())
	}
	for name, src := range all {
		Expect(os.WriteFile(filepath.Join(dir, name), src, 0o666)).To(Succeed())
	}
	return dir
}

// equal says whether two folders hold the same.
func equal(a, b map[string][]byte) bool {
	if len(a) != len(b) {
		return false
	}
	for name, src := range a {
		if other, ok := b[name]; !ok || !bytes.Equal(src, other) {
			return false
		}
	}
	return true
}
