package attest_test

import (
	"bytes"
	"crypto"
	"crypto/ed25519"
	"crypto/rand"
	"crypto/rsa"
	"crypto/x509"
	"encoding/hex"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"golang.org/x/crypto/ssh"

	"latchproof/harness/attest"
)

var _ = Describe("a key", func() {
	var file string
	BeforeEach(func() { file = filepath.Join(GinkgoT().TempDir(), "house.key") })
	secret := func() ([]byte, error) { return []byte("correct horse"), nil }

	It("is written for its owner alone, and its public part for all", func() {
		pub, err := attest.NewKey(file, nil)
		Expect(err).NotTo(HaveOccurred())
		st, err := os.Stat(file)
		Expect(err).NotTo(HaveOccurred())
		Expect(st.Mode().Perm()).To(Equal(fs.FileMode(0o600)))
		src, err := os.ReadFile(file + ".pub")
		Expect(err).NotTo(HaveOccurred())
		// As the standard library reads any SubjectPublicKeyInfo.
		b, rest := pem.Decode(src)
		Expect(rest).To(BeEmpty())
		std, err := x509.ParsePKIXPublicKey(b.Bytes)
		Expect(err).NotTo(HaveOccurred())
		Expect(std).To(Equal(pub))
		for _, f := range []string{file, file + ".pub"} {
			Expect(attest.LoadPublic(f)).To(Equal(pub))
		}
		k, err := attest.LoadKey(file, nil)
		Expect(err).NotTo(HaveOccurred())
		Expect(k.Public()).To(Equal(crypto.PublicKey(pub)))
		Expect(k.ID()).To(And(Equal(attest.KeyID(pub)), MatchRegexp("^[0-9a-f]{64}$")))
		sig, err := k.Sign(nil, []byte("x"), crypto.Hash(0))
		Expect(err).NotTo(HaveOccurred())
		Expect(ed25519.Verify(pub, []byte("x"), sig)).To(BeTrue())
	})

	It("is locked by a passphrase", func() {
		pub, err := attest.NewKey(file, []byte("correct horse"))
		Expect(err).NotTo(HaveOccurred())
		src, err := os.ReadFile(file)
		Expect(err).NotTo(HaveOccurred())
		b, _ := pem.Decode(src)
		Expect(b.Type).To(Equal("OPENSSH PRIVATE KEY"))
		Expect(string(b.Bytes[:60])).To(And(ContainSubstring("aes256-ctr"), ContainSubstring("bcrypt")))
		k, err := attest.LoadKey(file, secret)
		Expect(err).NotTo(HaveOccurred())
		Expect(k.Public()).To(Equal(crypto.PublicKey(pub)))
		Expect(attest.LoadPublic(file)).To(Equal(pub)) // without it
		_, err = attest.LoadKey(file, nil)
		Expect(err).To(MatchError(attest.ErrPassphrase))
		_, err = attest.LoadKey(file, func() ([]byte, error) { return []byte("correct house"), nil })
		Expect(err).To(MatchError(attest.ErrPassphrase))
		_, err = attest.LoadKey(file, func() ([]byte, error) { return nil, nil })
		Expect(err).To(MatchError(attest.ErrPassphrase))
		stop := errors.New("no")
		_, err = attest.LoadKey(file, func() ([]byte, error) { return nil, stop })
		Expect(err).To(MatchError(stop))
	})

	It("is never written over another file", func() {
		Expect(os.WriteFile(file, []byte("mine"), 0o600)).To(Succeed())
		_, err := attest.NewKey(file, nil)
		Expect(err).To(MatchError(fs.ErrExist))
		Expect(os.ReadFile(file)).To(BeEquivalentTo("mine"))
		Expect(file + ".pub").NotTo(BeAnExistingFile())
		Expect(os.Rename(file, file+".pub")).To(Succeed())
		_, err = attest.NewKey(file, nil)
		Expect(err).To(MatchError(fs.ErrExist))
		Expect(os.ReadFile(file + ".pub")).To(BeEquivalentTo("mine"))
		Expect(file).NotTo(BeAnExistingFile())
		Expect(os.Symlink("elsewhere", file)).To(Succeed())
		_, err = attest.NewKey(file, nil)
		Expect(err).To(MatchError(fs.ErrExist))
		Expect(filepath.Join(filepath.Dir(file), "elsewhere")).NotTo(BeAnExistingFile())
	})

	It("is refused when others can read it", func() {
		_, err := attest.NewKey(file, nil)
		Expect(err).NotTo(HaveOccurred())
		for mode := range fs.FileMode(0o1000) {
			Expect(os.Chmod(file, mode|0o400)).To(Succeed())
			_, err := attest.LoadKey(file, nil)
			_, err2 := attest.LoadPublic(file)
			if mode&0o077 != 0 {
				Expect(err).To(MatchError(attest.ErrOpen), "%o", mode)
				Expect(err2).To(MatchError(attest.ErrOpen), "%o", mode)
			} else {
				Expect(errors.Join(err, err2)).NotTo(HaveOccurred(), "%o", mode)
			}
		}
	})

	It("is never printed", func() {
		seed := unhex(test1)
		k := rfcKey()
		for _, verb := range []string{"%v", "%+v", "%#v", "%s", "%x", "%q", "%d"} {
			for _, x := range []any{k, *k, []any{k}, struct{ K *attest.Key }{k}} {
				text := fmt.Sprintf(verb, x)
				Expect(text).NotTo(ContainSubstring(hex.EncodeToString(seed[:4])), verb)
				Expect(text).NotTo(ContainSubstring("157 97 177 157"), verb)
				Expect(text).NotTo(ContainSubstring("0x9d, 0x61"), verb)
			}
		}
	})

	DescribeTable("is not read from", func(write func(file string), said string) {
		write(file)
		_, err := attest.LoadKey(file, secret)
		Expect(err).To(MatchError(ContainSubstring(said)))
		Expect(err.Error()).NotTo(ContainSubstring("correct horse"))
	},
		Entry("a folder", func(f string) { Expect(os.Mkdir(f, 0o700)).To(Succeed()) }, "not a regular file"),
		Entry("nothing", func(string) {}, "no such file"),
		Entry("an empty file", func(f string) { Expect(os.WriteFile(f, nil, 0o600)).To(Succeed()) }, "no key found"),
		Entry("a large file", func(f string) { Expect(os.WriteFile(f, make([]byte, 1<<20), 0o600)).To(Succeed()) }, "larger than any key"),
		Entry("a public key", func(f string) {
			pub := rfcKey().Public().(ed25519.PublicKey)
			Expect(os.WriteFile(f, []byte(attest.PublicPEM(pub)), 0o600)).To(Succeed())
		}, "key"),
		Entry("a key of another kind", func(f string) {
			other, err := rsa.GenerateKey(rand.Reader, 2048)
			Expect(err).NotTo(HaveOccurred())
			b, err := ssh.MarshalPrivateKey(other, "")
			Expect(err).NotTo(HaveOccurred())
			Expect(os.WriteFile(f, pem.EncodeToMemory(b), 0o600)).To(Succeed())
		}, "not an Ed25519 key"),
	)

	It("has a public part in one form", func() {
		text := attest.PublicPEM(rfcKey().Public().(ed25519.PublicKey))
		Expect(attest.ParsePublic(text)).To(BeEquivalentTo(rfcKey().Public()))
		for i := range text {
			hurt := []byte(text)
			hurt[i] ^= 1
			pub, err := attest.ParsePublic(string(hurt))
			Expect(err != nil || !bytes.Equal(pub, rfcKey().Public().(ed25519.PublicKey))).To(BeTrue(), "byte %d", i)
		}
		for _, other := range []string{"", text + "\n", " " + text, "x\n" + text, text + text} {
			_, err := attest.ParsePublic(other)
			Expect(err).To(HaveOccurred(), "%q", other)
		}
	})
})
