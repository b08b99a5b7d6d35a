package recordbook_test

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"golang.org/x/mod/sumdb/tlog"

	"latchproof/harness/recordbook"
)

// The definitions of RFC 6962, section 2.1, word by word, apart from tlog.

func leafOf(data []byte) tlog.Hash { return sha256.Sum256(append([]byte{0}, data...)) }

func nodeOf(l, r tlog.Hash) tlog.Hash {
	return sha256.Sum256(append(append([]byte{1}, l[:]...), r[:]...))
}

// split is the largest power of two below n.
func split(n int) int {
	k := 1
	for 2*k < n {
		k *= 2
	}
	return k
}

// mth is the Merkle Tree Hash of 2.1.
func mth(d [][]byte) tlog.Hash {
	switch len(d) {
	case 0:
		return sha256.Sum256(nil)
	case 1:
		return leafOf(d[0])
	}
	k := split(len(d))
	return nodeOf(mth(d[:k]), mth(d[k:]))
}

// auditPath is PATH(m, D[n]) of 2.1.1.
func auditPath(m int, d [][]byte) []tlog.Hash {
	if len(d) == 1 {
		return nil
	}
	if k := split(len(d)); m < k {
		return append(auditPath(m, d[:k]), mth(d[k:]))
	} else {
		return append(auditPath(m-k, d[k:]), mth(d[:k]))
	}
}

// consistency is SUBPROOF(m, D[n], b) of 2.1.2.
func consistency(m int, d [][]byte, b bool) []tlog.Hash {
	if m == len(d) {
		if b {
			return nil
		}
		return []tlog.Hash{mth(d)}
	}
	if k := split(len(d)); m <= k {
		return append(consistency(m, d[:k], b), mth(d[k:]))
	} else {
		return append(consistency(m-k, d[k:], false), mth(d[:k]))
	}
}

func hexes(list []tlog.Hash) []string {
	out := []string{}
	for _, h := range list {
		out = append(out, hex.EncodeToString(h[:]))
	}
	return out
}

func fromHex(s string) tlog.Hash {
	GinkgoHelper()
	raw, err := hex.DecodeString(s)
	Expect(err).NotTo(HaveOccurred())
	return tlog.Hash(raw)
}

// The reference test vectors of the transparency-dev merkle library, which are
// those of the first Certificate Transparency server; RFC 6962 prints none.
var (
	vectorLeaves = []string{"", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"}
	vectorRoots  = []string{
		"e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
		"6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
		"fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
		"aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
		"d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
		"4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
		"76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
		"ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
		"5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
	}
	vectorPaths = []struct {
		leaf, size int
		path       []string
	}{
		{0, 8, []string{
			"96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
			"5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
			"6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4",
		}},
		{5, 8, []string{
			"bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
			"ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
			"d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
		}},
		{2, 3, []string{"fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125"}},
	}
	vectorGrowths = []struct {
		old, size int
		path      []string
	}{
		{1, 8, []string{
			"96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
			"5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
			"6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4",
		}},
		{6, 8, []string{
			"0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a",
			"ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
			"d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
		}},
		{2, 5, []string{
			"5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
			"bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
		}},
	}
)

var _ = Describe("RFC 6962, section 2.1", func() {
	var leaves [][]byte
	BeforeEach(func() {
		leaves = nil
		for _, s := range vectorLeaves {
			raw, err := hex.DecodeString(s)
			Expect(err).NotTo(HaveOccurred())
			leaves = append(leaves, raw)
		}
	})
	head := func(size int) string {
		GinkgoHelper()
		origin, err := recordbook.Origin(house)
		Expect(err).NotTo(HaveOccurred())
		h, err := recordbook.SignHead(origin, int64(size), fromHex(vectorRoots[size]), houseKey)
		Expect(err).NotTo(HaveOccurred())
		return string(h.Note)
	}

	It("is what the test computes, by the reference vectors", func() {
		for n, want := range vectorRoots {
			root := mth(leaves[:n])
			Expect(hex.EncodeToString(root[:])).To(Equal(want), "%d leaves", n)
		}
		for _, v := range vectorPaths {
			Expect(hexes(auditPath(v.leaf, leaves[:v.size]))).To(Equal(v.path))
		}
		for _, v := range vectorGrowths {
			Expect(hexes(consistency(v.old, leaves[:v.size], true))).To(Equal(v.path))
		}
		// Of the same vectors: a leaf, and a node of two texts that are no hashes.
		Expect(hexes([]tlog.Hash{recordbook.LeafHash([]byte("L123456"))})).To(Equal([]string{"395aa064aa4c29f7010acfe3f25db9485bbd4b91897b6ad7ad547639252b4d56"}))
		Expect(fmt.Sprintf("%x", sha256.Sum256([]byte("\x01N123N456")))).To(Equal("aa217fe888e47007fa15edab33c2b492a722cb106c64667fc2b044444de66bbb"))
	})
	It("is what proofs are checked by: the reference paths hold, and no others", func() {
		for _, v := range vectorPaths {
			leaf := leafOf(leaves[v.leaf])
			p := recordbook.Inclusion{Proof: "inclusion", Version: 1, Index: int64(v.leaf), Leaf: hexes([]tlog.Hash{leaf})[0], Path: v.path, Head: head(v.size)}
			got, err := recordbook.Verify(p.Format(), housePub)
			Expect(err).NotTo(HaveOccurred())
			Expect(got).To(And(HaveField("Index", p.Index), HaveField("Leaf", leaf), HaveField("Head.Size", int64(v.size))))
			for i := range v.size {
				q := p
				q.Index = int64(i)
				_, err := q.Verify(housePub)
				Expect(err == nil).To(Equal(i == v.leaf), "entry %d for %d", i, v.leaf)
			}
			p.Path = p.Path[1:]
			_, err = p.Verify(housePub)
			Expect(err).To(MatchError(recordbook.ErrProof))
		}
		for _, v := range vectorGrowths {
			p := recordbook.Growth{Proof: "growth", Version: 1, Path: v.path, Old: head(v.old), New: head(v.size)}
			got, err := recordbook.Verify(p.Format(), housePub)
			Expect(err).NotTo(HaveOccurred())
			Expect(got).To(And(HaveField("Old.Size", int64(v.old)), HaveField("Head.Size", int64(v.size))))
			for old := range v.size + 1 {
				q := p
				q.Old = head(old)
				_, err := q.Verify(housePub)
				Expect(err == nil).To(Equal(old == v.old), "from %d for %d", old, v.old)
			}
		}
	})
	It("is the tree of a book of every size, and of every proof of it", func() {
		b, err := recordbook.Create(filepath.Join(GinkgoT().TempDir(), "book"), house, houseKey)
		Expect(err).NotTo(HaveOccurred())
		defer b.Close()
		var all [][]byte
		var heads [][]byte
		for n := range 20 {
			Expect(b.Head()).To(And(HaveField("Root", mth(all)), HaveField("Size", int64(n)), HaveField("Origin", "latchproof.invalid/records/Linden%20Street")))
			heads = append(heads, b.Head().Note)
			for i := range n {
				p, err := b.Prove(int64(i))
				Expect(err).NotTo(HaveOccurred())
				Expect(p.Path).To(Equal(hexes(auditPath(i, all))))
				Expect(p.Leaf).To(Equal(hexes([]tlog.Hash{leafOf(all[i])})[0]))
				got, err := recordbook.Verify(p.Format(), housePub)
				Expect(err).NotTo(HaveOccurred())
				Expect(got.Head.Same(b.Head())).To(BeTrue())
			}
			for m, old := range heads {
				p, err := b.ProveGrowth(old)
				Expect(err).NotTo(HaveOccurred())
				if m > 0 {
					Expect(p.Path).To(Equal(hexes(consistency(m, all, true))))
				} else {
					Expect(p.Path).To(BeEmpty())
				}
				_, err = recordbook.Verify(p.Format(), housePub)
				Expect(err).NotTo(HaveOccurred())
			}
			all = append(all, nth(n))
			appendUpTo(b, n+1)
		}
	})
	It("is what Python makes of the files", func() {
		python, err := exec.LookPath("python3")
		if err != nil {
			Skip("python3 is not installed")
		}
		dir := newBook(13)
		b := open(dir)
		in, err := b.Prove(9)
		Expect(err).NotTo(HaveOccurred())
		old, err := os.ReadFile(filepath.Join(dir, recordbook.HeadFile(6)))
		Expect(err).NotTo(HaveOccurred())
		grown, err := b.ProveGrowth(old)
		Expect(err).NotTo(HaveOccurred())
		proofs := GinkgoT().TempDir()
		inFile, grownFile := filepath.Join(proofs, "in.json"), filepath.Join(proofs, "grown.json")
		Expect(os.WriteFile(inFile, in.Format(), 0o666)).To(Succeed())
		Expect(os.WriteFile(grownFile, grown.Format(), 0o666)).To(Succeed())
		out, err := exec.Command(python, filepath.Join("testdata", "book.py"), dir, inFile, grownFile).CombinedOutput()
		Expect(err).NotTo(HaveOccurred(), string(out))
		GinkgoWriter.Write(out)
		Expect(string(out)).To(HavePrefix("13 entries, 14 heads, 2 proofs"))
		if strings.Contains(string(out), "not checked") {
			Skip("all but the signatures was checked: python3-cryptography is not installed")
		}
	})
})
