package durable_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/durable"
)

var _ = Describe("files", func() {
	It("are put in another's place in one step, with nothing left beside", func() {
		dir := GinkgoT().TempDir()
		for _, text := range []string{"one", "a longer one", "2"} {
			Expect(durable.Replace(dir, "a", ".a.tmp", []byte(text))).To(Succeed())
			Expect(os.ReadFile(filepath.Join(dir, "a"))).To(BeEquivalentTo(text))
		}
		Expect(os.ReadDir(dir)).To(HaveLen(1))
		Expect(os.WriteFile(filepath.Join(dir, "b"), []byte("old"), 0o600)).To(Succeed())
		Expect(durable.Replace(filepath.Join(dir, "none"), "a", "t", nil)).To(MatchError(fs.ErrNotExist))
		Expect(durable.Replace(dir, "b", "no/t", nil)).NotTo(Succeed())
		Expect(os.ReadFile(filepath.Join(dir, "b"))).To(BeEquivalentTo("old"))
	})
	It("are new when they must be", func() {
		path := filepath.Join(GinkgoT().TempDir(), "a")
		Expect(durable.WriteNew(path, []byte("x"))).To(Succeed())
		Expect(durable.WriteNew(path, []byte("y"))).To(MatchError(fs.ErrExist))
		Expect(durable.WriteSynced(path, []byte("y"))).To(Succeed())
		Expect(os.ReadFile(path)).To(BeEquivalentTo("y"))
	})
	It("are for their owner alone when they are secret", func() {
		dir := GinkgoT().TempDir()
		path := filepath.Join(dir, "a")
		Expect(durable.WriteSecret(path, []byte("x"))).To(Succeed())
		st, err := os.Stat(path)
		Expect(err).NotTo(HaveOccurred())
		Expect(st.Mode().Perm()).To(Equal(fs.FileMode(0o600)))
		Expect(durable.WriteSecret(path, []byte("y"))).To(MatchError(fs.ErrExist))
		Expect(os.ReadFile(path)).To(BeEquivalentTo("x"))
		Expect(os.Symlink("b", filepath.Join(dir, "link"))).To(Succeed())
		Expect(durable.WriteSecret(filepath.Join(dir, "link"), []byte("y"))).To(MatchError(fs.ErrExist))
		Expect(os.ReadDir(dir)).To(HaveLen(2))
	})
	It("tell of a full disk", func() {
		Expect(durable.Plain(syscall.ENOSPC)).To(And(MatchError(durable.ErrFull), MatchError(syscall.ENOSPC)))
		Expect(durable.Plain(syscall.EDQUOT)).To(MatchError(durable.ErrFull))
		Expect(durable.Plain(syscall.EIO)).To(Equal(syscall.EIO))
		Expect(durable.Plain(nil)).To(BeNil())
	})
})

var _ = Describe("a hash of its own", func() {
	text := []byte("{\n  \"name\": \"x\",\n  \"self\": \"" + durable.Zeros + "\"\n}\n")

	It("is that of the text with zeros in its place, and finds every changed byte", func() {
		src := bytes.Clone(text)
		Expect(durable.Fill(src)).To(Succeed())
		sum := sha256.Sum256(text)
		Expect(string(src)).To(ContainSubstring(hex.EncodeToString(sum[:])))
		Expect(durable.Holds(src)).To(BeTrue())
		for i := range src {
			hurt := bytes.Clone(src)
			hurt[i] ^= 1
			Expect(durable.Holds(hurt)).To(BeFalse(), "byte %d", i)
			Expect(durable.Holds(src[:i])).To(BeFalse(), "cut at %d", i)
		}
	})
	It("needs its place", func() {
		Expect(durable.Fill([]byte(`{"self": "00"}`))).NotTo(Succeed())
		Expect(durable.Fill([]byte(`{}`))).NotTo(Succeed())
		Expect(durable.Holds([]byte(`{}`))).To(BeFalse())
	})
})
