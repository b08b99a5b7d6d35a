package recordbook_test

import (
	"bytes"
	"crypto/ed25519"
	"encoding/base64"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"golang.org/x/mod/sumdb/note"

	"latchproof/harness/recordbook"
)

// book makes a book in a new folder of certificates of a house, and gives it and
// its heads.
func book(name string, k ed25519.PrivateKey, certificates ...[]byte) (*recordbook.Book, []recordbook.Head) {
	GinkgoHelper()
	b, err := recordbook.Create(filepath.Join(GinkgoT().TempDir(), "book"), name, k)
	Expect(err).NotTo(HaveOccurred())
	DeferCleanup(b.Close)
	heads := []recordbook.Head{b.Head()}
	for _, c := range certificates {
		_, err := b.Append(c)
		Expect(err).NotTo(HaveOccurred())
		heads = append(heads, b.Head())
	}
	return b, heads
}

var _ = Describe("a head that somebody kept", func() {
	first := [][]byte{nth(0), nth(1), nth(2), nth(3), nth(4), nth(5)}

	It("shows that the book has grown from it", func() {
		b, heads := book(house, houseKey, first...)
		for _, old := range heads {
			p, err := b.ProveGrowth(old.Note)
			Expect(err).NotTo(HaveOccurred())
			got, err := recordbook.Verify(p.Format(), housePub)
			Expect(err).NotTo(HaveOccurred())
			Expect(got.Kind).To(Equal(recordbook.GrowthProof))
			Expect(got.Old.Same(old)).To(BeTrue())
			Expect(got.Head.Same(b.Head())).To(BeTrue())
		}
	})
	It("refuses a book that was built anew with one entry changed, though it is sound by itself", func() {
		_, heads := book(house, houseKey, first...)
		for _, i := range []int{0, 2, 5} {
			other := append([][]byte{}, first...)
			other[i] = certificate(houseKey, 50, "first-lamp", "a friend of the house", 700)
			b, anew := book(house, houseKey, append(other, nth(6))...)
			Expect(b.Check()).To(Succeed())
			Expect(open(b.Dir()).Len()).To(BeEquivalentTo(7))
			for n, old := range heads {
				p, err := b.ProveGrowth(old.Note)
				if n <= i { // what was kept does not speak of the entry yet
					Expect(err).NotTo(HaveOccurred())
					continue
				}
				Expect(err).To(And(MatchError(recordbook.ErrRewritten), MatchError(ContainSubstring("its first %d entries are not those of the head that was kept", n))))
				// The house may claim it all the same, by a path that it makes up.
				p = recordbook.Growth{Proof: "growth", Version: 1, Old: string(old.Note), New: string(b.Head().Note)}
				for _, from := range anew[1:] {
					q, err := b.ProveGrowth(from.Note)
					Expect(err).NotTo(HaveOccurred())
					p.Path = q.Path
					_, err = recordbook.Verify(p.Format(), housePub)
					Expect(err).To(MatchError(recordbook.ErrProof))
				}
			}
		}
	})
	It("refuses entries that were exchanged, taken out or taken back", func() {
		_, heads := book(house, houseKey, first...)
		kept := heads[5].Note
		for what, list := range map[string][][]byte{
			"exchanged":         {nth(1), nth(0), nth(2), nth(3), nth(4), nth(5)},
			"the last of them":  {nth(0), nth(1), nth(2), nth(4), nth(3), nth(5)},
			"one taken out":     {nth(0), nth(2), nth(3), nth(4), nth(5)},
			"one more in front": {nth(9), nth(0), nth(1), nth(2), nth(3), nth(4)},
			"one taken back":    {nth(0), nth(1), nth(2), nth(3)},
			"all taken back":    nil,
		} {
			b, _ := book(house, houseKey, list...)
			_, err := b.ProveGrowth(kept)
			Expect(err).To(MatchError(recordbook.ErrRewritten), what)
		}
		b, _ := book(house, houseKey)
		_, err := b.ProveGrowth(kept)
		Expect(err).To(MatchError(ContainSubstring("the head that was kept has 5 entries, and there are 0")))
	})
	It("is of one house and one key", func() {
		_, heads := book(house, houseKey, first...)
		b, _ := book("Another Street", houseKey, first...)
		_, err := b.ProveGrowth(heads[3].Note)
		Expect(err).To(And(MatchError(recordbook.ErrRewritten), MatchError(ContainSubstring("of another book"))))
		b, _ = book(house, key("stranger"))
		_, err = b.ProveGrowth(heads[3].Note)
		Expect(err).To(And(MatchError(recordbook.ErrProof), MatchError(ContainSubstring("signed by another key"))))
		_, err = b.ProveGrowth([]byte("x"))
		Expect(err).To(MatchError(recordbook.ErrProof))
	})
	It("shows that an open book was exchanged beneath", func() {
		b, _ := book(house, houseKey, first...)
		was := open(b.Dir())
		other, _ := book(house, houseKey, nth(0), nth(2))
		Expect(os.Rename(b.Dir(), b.Dir()+".old")).To(Succeed())
		Expect(os.Rename(other.Dir(), b.Dir())).To(Succeed())
		Expect(was.Check()).To(MatchError(recordbook.ErrRewritten))
		Expect(os.RemoveAll(b.Dir())).To(Succeed())
		stranger, _ := book(house, key("stranger"))
		Expect(os.Rename(stranger.Dir(), b.Dir())).To(Succeed())
		Expect(was.Check()).To(MatchError(recordbook.ErrRewritten))
	})
})

var _ = Describe("a proof", func() {
	It("is refused with any byte changed, and by any other key", func() {
		b, heads := book(house, houseKey, nth(0), nth(1), nth(2), nth(3), nth(4))
		in, err := b.Prove(2)
		Expect(err).NotTo(HaveOccurred())
		grown, err := b.ProveGrowth(heads[3].Note)
		Expect(err).NotTo(HaveOccurred())
		r := rand.New(rand.NewPCG(7, 2))
		for _, src := range [][]byte{in.Format(), grown.Format()} {
			_, err := recordbook.Verify(src, housePub)
			Expect(err).NotTo(HaveOccurred())
			_, err = recordbook.Verify(src, key("stranger").Public().(ed25519.PublicKey))
			Expect(err).To(MatchError(recordbook.ErrProof))
			refused := func(hurt []byte, what string) {
				GinkgoHelper()
				_, err := recordbook.Verify(hurt, housePub)
				Expect(err).To(MatchError(recordbook.ErrProof), what)
			}
			for i := range src {
				refused(append(bytes.Clone(src[:i]), src[i+1:]...), fmt.Sprintf("without byte %d", i))
				refused(src[:i], fmt.Sprintf("cut at %d", i))
				hurt := bytes.Clone(src)
				hurt[i] += byte(1 + r.IntN(255))
				refused(hurt, fmt.Sprintf("byte %d", i))
			}
			refused(append([]byte{}, append(src, '\n')...), "one line more")
			refused(bytes.Replace(src, []byte(`"version": 1`), []byte(`"version": 1, "version": 1`), 1), "a key twice")
			refused(bytes.Replace(src, []byte(`"version"`), []byte(`"Version"`), 1), "a key in other letters")
			refused(bytes.Replace(src, []byte(`"version": 1`), []byte(`"version": 2`), 1), "another version")
			refused([]byte(strings.NewReplacer("growth", "inclusion", "inclusion", "growth").Replace(string(src))), "the other kind")
			refused(make([]byte, 1<<20), "too long")
		}
		_, err = b.Prove(5)
		Expect(err).To(HaveOccurred())
		_, err = b.Prove(-1)
		Expect(err).To(HaveOccurred())
	})
	It("does not go from a larger book to a smaller one, nor between two books", func() {
		_, heads := book(house, houseKey, nth(0), nth(1))
		_, others := book("Another Street", houseKey, nth(0), nth(1))
		for _, p := range []recordbook.Growth{
			{Old: string(heads[2].Note), New: string(heads[1].Note)},
			{Old: string(heads[1].Note), New: string(heads[0].Note)},
			{Old: string(heads[0].Note), New: string(others[0].Note)},
			{Old: string(heads[2].Note), New: string(others[2].Note)},
			{Old: string(heads[0].Note), New: string(heads[2].Note), Path: []string{strings.Repeat("00", 32)}},
			{Old: string(heads[2].Note), New: string(heads[2].Note), Path: []string{strings.Repeat("00", 32)}},
		} {
			p.Proof, p.Version = recordbook.GrowthProof, 1
			_, err := p.Verify(housePub)
			Expect(err).To(MatchError(recordbook.ErrProof))
		}
	})
})

var _ = Describe("a tree head", func() {
	It("is a note that the library opens with a verifier key of its own form", func() {
		_, heads := book(house, houseKey, nth(0))
		origin := "latchproof.invalid/records/Linden%20Street"
		text, err := note.NewEd25519VerifierKey(origin, housePub)
		Expect(err).NotTo(HaveOccurred())
		v, err := note.NewVerifier(text)
		Expect(err).NotTo(HaveOccurred())
		n, err := note.Open(heads[1].Note, note.VerifierList(v))
		Expect(err).NotTo(HaveOccurred())
		Expect(n.Text).To(Equal(fmt.Sprintf("%s\n1\n%s\n", origin, leafOf(nth(0)))))
		Expect(n.Sigs).To(HaveLen(1))
	})
	It("is written in one way", func() {
		_, heads := book(house, houseKey, nth(0))
		src := heads[1].Note
		text, sig, _ := strings.Cut(string(src), "\n\n")
		origin := heads[1].Origin
		sign := func(text string) []byte {
			n, err := note.NewEd25519VerifierKey(origin, housePub)
			Expect(err).NotTo(HaveOccurred())
			verify, err := note.NewVerifier(n)
			Expect(err).NotTo(HaveOccurred())
			raw := ed25519.Sign(houseKey, []byte(text))
			h := verify.KeyHash()
			raw = append([]byte{byte(h >> 24), byte(h >> 16), byte(h >> 8), byte(h)}, raw...)
			return fmt.Appendf(nil, "%s\n— %s %s\n", text, origin, base64.StdEncoding.EncodeToString(raw))
		}
		Expect(sign(text + "\n")).To(Equal(src))
		root := heads[1].Root.String()
		for _, hurt := range [][]byte{
			nil,
			sign(text + "\nmore\n"),
			sign(strings.Replace(text, "\n1\n", "\n01\n", 1) + "\n"),
			sign(strings.Replace(text, "\n1\n", "\n-1\n", 1) + "\n"),
			sign(strings.Replace(text, "\n1\n", "\n+1\n", 1) + "\n"),
			sign(strings.Replace(text, root, root[:43], 1) + "\n"),
			sign(strings.Replace(text, "Linden%20Street", "Linden%20street", 1) + "\n"),
			[]byte(string(src) + sig),                             // the signature twice
			[]byte(string(src) + "— someone AAAAAAAAAAAAAAAA\n"),  // another one
			[]byte(strings.TrimSuffix(string(src), "=\n") + "\n"), // without padding
			// The last letter before the padding has two spare bits: the next letter of
			// the alphabet sets one.
			append(append(bytes.Clone(src[:len(src)-3]), src[len(src)-3]+1), '=', '\n'),
			[]byte(strings.ReplaceAll(string(src), "\n", "\r\n")),
			bytes.Replace(src, []byte("Linden%20"), []byte("Linden%2x"), -1),
		} {
			_, err := recordbook.ParseHead(hurt, housePub)
			Expect(err).To(MatchError(recordbook.ErrProof), "%q", hurt)
		}
		_, err := recordbook.ParseHead(src, nil)
		Expect(err).To(MatchError(recordbook.ErrProof))
	})
	It("names any house without a space or a plus", func() {
		for house, origin := range map[string]string{
			"Linden Street":       "latchproof.invalid/records/Linden%20Street",
			"a+b%20/c":            "latchproof.invalid/records/a%2Bb%2520%2Fc",
			"Straße\u00a05\n\x1b": "latchproof.invalid/records/Stra%C3%9Fe%C2%A05%0A%1B",
			"-._~!$&'()*+,;=:@":   "latchproof.invalid/records/-._~%21%24%26%27%28%29%2A%2B%2C%3B%3D%3A%40",
		} {
			Expect(recordbook.Origin(house)).To(Equal(origin))
			got, ok := recordbook.House(origin)
			Expect(ok).To(BeTrue())
			Expect(got).To(Equal(house))
		}
		for _, bad := range []string{"", "x", "latchproof.invalid/records/", "latchproof.invalid/records/a b", "latchproof.invalid/records/%2", "latchproof.invalid/records/%41"} {
			_, ok := recordbook.House(bad)
			Expect(ok).To(BeFalse(), bad)
		}
		Expect(recordbook.Origin("")).Error().To(HaveOccurred())
		Expect(recordbook.Origin(strings.Repeat("x", 1025))).Error().To(HaveOccurred())
		Expect(recordbook.Origin(strings.Repeat("x", 1024))).Error().NotTo(HaveOccurred())
	})
})

func FuzzVerify(f *testing.F) {
	dir := filepath.Join(f.TempDir(), "book")
	b, err := recordbook.Create(dir, house, houseKey)
	if err != nil {
		f.Fatal(err)
	}
	defer b.Close()
	old := b.Head().Note
	for i := range 3 {
		if _, err := b.Append(nth(i)); err != nil {
			f.Fatal(err)
		}
		in, err := b.Prove(int64(i))
		if err != nil {
			f.Fatal(err)
		}
		grown, err := b.ProveGrowth(old)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(in.Format())
		f.Add(grown.Format())
		f.Add(b.Head().Note)
		old = b.Head().Note
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		if h, err := recordbook.ParseHead(src, housePub); err == nil && (h.Size > 3 || !bytes.Equal(h.Note, src)) {
			t.Fatalf("a head that nobody signed: %q", src)
		}
		p, err := recordbook.Verify(src, housePub)
		if err == nil && p.Head.Size > 3 {
			t.Fatalf("a proof that nobody made: %q", src)
		}
	})
}
