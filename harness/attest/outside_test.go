package attest_test

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"github.com/secure-systems-lab/go-securesystemslib/dsse"
	"golang.org/x/crypto/ssh"

	"latchproof/harness/attest"
	"latchproof/harness/bundle"
)

// python is Debian's interpreter, with python3-cryptography, or the test is skipped.
func python() string {
	GinkgoHelper()
	const p = "/usr/bin/python3"
	if out, err := exec.Command(p, "-c", "import cryptography").CombinedOutput(); err != nil {
		Skip("python3-cryptography is not installed: " + strings.TrimSpace(string(out)) + " " + err.Error())
	}
	return p
}

func program(name string) string {
	GinkgoHelper()
	p, err := exec.LookPath(name)
	if err != nil {
		Skip(name + " is not installed")
	}
	return p
}

const script = "../../fixtures/verify/verify_certificate.py"

// evidence packs files with their certificate, by the key, and lays a video beside.
func evidence(dir string, k *attest.Key, change func(map[string]string)) string {
	GinkgoHelper()
	texts := map[string]string{
		"decision.json":                     `{"certified": true}`,
		"claim/my.claim.yaml":               "version: 1\n",
		"runs/bench-1/run-001/run.json":     strings.Repeat("x", 5000),
		"runs/bench-1/run-001/trace.lpt":    strings.Repeat("\x00\xff", 700),
		"pictures/bench-1/run-001/0062.png": "",
	}
	const video = "runs/bench-1/run-001/capture.mkv"
	var xs []attest.Subject
	sum := func(text string) string { h := sha256.Sum256([]byte(text)); return hex.EncodeToString(h[:]) }
	for name, text := range texts {
		xs = append(xs, attest.Subject{Name: name, SHA256: sum(text)})
	}
	xs = append(xs, attest.Subject{Name: video, SHA256: sum("video")})
	src, err := attest.Sign(k, xs, sample())
	Expect(err).NotTo(HaveOccurred())
	texts["certificate.json"] = string(src)
	if change != nil {
		change(texts)
	}
	var files []bundle.File
	for name, text := range texts {
		files = append(files, bundle.Bytes(name, []byte(text)))
	}
	var b bytes.Buffer
	Expect(bundle.Write(&b, files)).To(Succeed())
	path := filepath.Join(dir, "x.bundle")
	Expect(os.WriteFile(path, b.Bytes(), 0o644)).To(Succeed())
	Expect(os.MkdirAll(filepath.Join(dir, filepath.Dir(video)), 0o755)).To(Succeed())
	Expect(os.WriteFile(filepath.Join(dir, video), []byte("video"), 0o644)).To(Succeed())
	return path
}

var _ = Describe("other programs", func() {
	var dir, pub string
	var k *attest.Key
	BeforeEach(func() {
		dir = GinkgoT().TempDir()
		file := filepath.Join(dir, "key")
		pub = file + ".pub"
		_, err := attest.NewKey(file, nil)
		Expect(err).NotTo(HaveOccurred())
		k, err = attest.LoadKey(file, nil)
		Expect(err).NotTo(HaveOccurred())
	})

	Context("a Python script, python3-cryptography alone", func() {
		check := func(args ...string) (string, error) {
			out, err := exec.Command(python(), append([]string{"-B", script}, args...)...).CombinedOutput()
			return string(out), err
		}
		It("finds that a certificate holds", func() {
			path := evidence(dir, k, nil)
			out, err := check(path, pub)
			Expect(err).NotTo(HaveOccurred(), out)
			Expect(out).To(And(ContainSubstring("734 frames"), ContainSubstring("6 files, signed with key "+k.ID()+"\n")))
			Expect(os.RemoveAll(filepath.Join(dir, "runs"))).To(Succeed())
			out, err = check(path)
			Expect(err).NotTo(HaveOccurred(), out)
			Expect(out).To(And(ContainSubstring("nobody said whose it is"), ContainSubstring("not at hand: runs/bench-1/run-001/capture.mkv")))
		})
		DescribeTable("finds what does not hold", func(change func(map[string]string), said string) {
			out, err := check(evidence(dir, k, change), pub, dir)
			Expect(err).To(HaveOccurred(), out)
			Expect(out).To(And(HavePrefix("does not hold: "), ContainSubstring(said)))
		},
			Entry("a changed file", func(t map[string]string) { t["decision.json"] = `{"certified": tRue}` }, "decision.json is not what was signed"),
			Entry("a file more", func(t map[string]string) { t["more"] = "" }, "not signed: more"),
			Entry("a file less", func(t map[string]string) { delete(t, "decision.json") }, "not there: decision.json"),
			Entry("no certificate", func(t map[string]string) { delete(t, "certificate.json") }, "there is no certificate.json"),
			Entry("a certificate by another key", func(t map[string]string) {
				src, err := attest.Sign(newKey(), subjects(), sample())
				Expect(err).NotTo(HaveOccurred())
				t["certificate.json"] = string(src)
			}, "signed with another key"),
			Entry("a changed statement", func(t map[string]string) {
				var e dsse.Envelope
				Expect(json.Unmarshal([]byte(t["certificate.json"]), &e)).To(Succeed())
				body, err := e.DecodeB64Payload()
				Expect(err).NotTo(HaveOccurred())
				body = bytes.Replace(body, []byte(`"frames":734,"high"`), []byte(`"frames":733,"high"`), 1)
				t["certificate.json"] = strings.Replace(t["certificate.json"], e.Payload, base64.StdEncoding.EncodeToString(body), 1)
			}, "Broken: signature"),
		)
		It("finds a changed video", func() {
			path := evidence(dir, k, nil)
			Expect(os.WriteFile(filepath.Join(dir, "runs/bench-1/run-001/capture.mkv"), []byte("vidEo"), 0o644)).To(Succeed())
			out, err := check(path, pub, dir)
			Expect(err).To(HaveOccurred())
			Expect(out).To(ContainSubstring("capture.mkv is not what was signed"))
		})
	})

	It("OpenSSL verifies the signature with FILE.pub", func() {
		openssl := program("openssl")
		src, err := attest.Sign(k, subjects(), sample())
		Expect(err).NotTo(HaveOccurred())
		var e dsse.Envelope
		Expect(json.Unmarshal(src, &e)).To(Succeed())
		body, err := e.DecodeB64Payload()
		Expect(err).NotTo(HaveOccurred())
		sig, err := base64.StdEncoding.DecodeString(e.Signatures[0].Sig)
		Expect(err).NotTo(HaveOccurred())
		message, signature := filepath.Join(dir, "pae"), filepath.Join(dir, "sig")
		Expect(os.WriteFile(signature, sig, 0o644)).To(Succeed())
		verify := func(payload []byte) (string, error) {
			Expect(os.WriteFile(message, dsse.PAE(attest.PayloadType, payload), 0o644)).To(Succeed())
			out, err := exec.Command(openssl, "pkeyutl", "-verify", "-pubin", "-inkey", pub, "-rawin", "-in", message, "-sigfile", signature).CombinedOutput()
			return string(out), err
		}
		out, err := verify(body)
		Expect(err).NotTo(HaveOccurred(), out)
		Expect(out).To(ContainSubstring("Signature Verified Successfully"))
		body[0] ^= 1
		_, err = verify(body)
		Expect(err).To(HaveOccurred())
	})

	It("OpenSSH reads the private key, with a passphrase and without", func() {
		keygen := program("ssh-keygen")
		for _, passphrase := range []string{"", "correct horse"} {
			file := filepath.Join(dir, "ssh"+passphrase)
			want, err := attest.NewKey(file, []byte(passphrase))
			Expect(err).NotTo(HaveOccurred())
			out, err := exec.Command(keygen, "-y", "-P", passphrase, "-f", file).CombinedOutput()
			Expect(err).NotTo(HaveOccurred(), "%s", out)
			key, _, _, _, err := ssh.ParseAuthorizedKey(out)
			Expect(err).NotTo(HaveOccurred())
			Expect(key.(ssh.CryptoPublicKey).CryptoPublicKey()).To(Equal(want))
		}
		_, err := exec.Command(keygen, "-y", "-P", "correct house", "-f", filepath.Join(dir, "sshcorrect horse")).CombinedOutput()
		Expect(err).To(HaveOccurred())
	})

	It("we read a private key of OpenSSH", func() {
		keygen := program("ssh-keygen")
		file := filepath.Join(dir, "theirs")
		out, err := exec.Command(keygen, "-q", "-t", "ed25519", "-N", "correct horse", "-C", "x", "-f", file).CombinedOutput()
		Expect(err).NotTo(HaveOccurred(), "%s", out)
		k, err := attest.LoadKey(file, func() ([]byte, error) { return []byte("correct horse"), nil })
		Expect(err).NotTo(HaveOccurred())
		line, err := os.ReadFile(file + ".pub")
		Expect(err).NotTo(HaveOccurred())
		key, _, _, _, err := ssh.ParseAuthorizedKey(line)
		Expect(err).NotTo(HaveOccurred())
		Expect(k.Public()).To(Equal(key.(ssh.CryptoPublicKey).CryptoPublicKey()))
		Expect(attest.LoadPublic(file)).To(Equal(k.Public().(ed25519.PublicKey)))
	})
})
