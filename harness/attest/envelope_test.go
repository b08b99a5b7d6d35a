package attest_test

import (
	"bytes"
	"context"
	"crypto"
	"crypto/ecdsa"
	"crypto/ed25519"
	"crypto/elliptic"
	"crypto/rand"
	"encoding/base64"
	"encoding/json"
	"errors"
	"math/big"
	"slices"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"github.com/secure-systems-lab/go-securesystemslib/dsse"

	"latchproof/harness/attest"
)

// signed signs any payload, as somebody with the key could.
func signed(k *attest.Key, kind string, body []byte) []byte {
	GinkgoHelper()
	s, err := dsse.NewEnvelopeSigner(asSigner{k})
	Expect(err).NotTo(HaveOccurred())
	e, err := s.SignPayload(context.Background(), kind, body)
	Expect(err).NotTo(HaveOccurred())
	src, err := json.Marshal(e)
	Expect(err).NotTo(HaveOccurred())
	src, err = attest.Canonical(src)
	Expect(err).NotTo(HaveOccurred())
	return src
}

type asSigner struct{ k *attest.Key }

func (s asSigner) Sign(_ context.Context, data []byte) ([]byte, error) {
	return s.k.Sign(nil, data, crypto.Hash(0))
}
func (s asSigner) KeyID() (string, error) { return s.k.ID(), nil }

func refused(src []byte, pub ed25519.PublicKey, as error, said ...any) {
	GinkgoHelper()
	c, err := attest.Open(src, pub)
	Expect(err).To(MatchError(as), said...)
	Expect(c).To(BeNil())
}

var _ = Describe("a certificate", func() {
	var k *attest.Key
	var pub ed25519.PublicKey
	var src []byte
	BeforeEach(func() {
		k = rfcKey()
		pub = k.Public().(ed25519.PublicKey)
		var err error
		src, err = attest.Sign(k, subjects(), sample())
		Expect(err).NotTo(HaveOccurred())
	})

	It("says what was signed, with or without the key at hand", func() {
		want := sample()
		want.Key, want.RestsOnVideo = attest.PublicPEM(pub), []string{}
		for _, given := range []ed25519.PublicKey{nil, pub} {
			c, err := attest.Open(src, given)
			Expect(err).NotTo(HaveOccurred())
			Expect(c.Predicate).To(Equal(want))
			Expect(c.Key).To(Equal(pub))
			Expect(c.KeyID).To(Equal(k.ID()))
			Expect(c.Subjects).To(Equal([]attest.Subject{subjects()[1], subjects()[0]}))
		}
	})

	It("is the same bytes every time, whatever the order of the subjects", func() {
		for range 20 { // protojson's spaces differ from build to build, maps' order from call to call
			xs := subjects()
			slices.Reverse(xs)
			Expect(attest.Sign(k, xs, sample())).To(Equal(src))
		}
		Expect(attest.Canonical(src)).To(Equal(src))
	})

	It("is refused with another key than the one asked for", func() {
		refused(src, newKey().Public().(ed25519.PublicKey), attest.ErrKey)
		refused(src, ed25519.PublicKey{}, attest.ErrKey)
		refused(src, pub[:31], attest.ErrKey)
	})

	It("is refused with any byte changed, left out or put in", func() {
		told := func(hurt []byte) bool {
			c, err := attest.Open(hurt, nil)
			return c == nil && (errors.Is(err, attest.ErrForm) || errors.Is(err, attest.ErrSignature))
		}
		for i := range src {
			hurt := bytes.Clone(src)
			hurt[i] ^= 1 << (i % 8)
			Expect(told(hurt)).To(BeTrue(), "bit %d of byte %d", i%8, i)
			Expect(told(slices.Delete(bytes.Clone(src), i, i+1))).To(BeTrue(), "without byte %d", i)
			for _, b := range []byte{' ', '\n', 'A', '=', 0, src[i]} {
				Expect(told(slices.Insert(bytes.Clone(src), i, b))).To(BeTrue(), "byte %q put in at %d", b, i)
			}
		}
		refused(append(bytes.Clone(src), '\n'), pub, attest.ErrForm)
		refused(nil, pub, attest.ErrForm)
		refused(make([]byte, attest.MaxEnvelope+1), pub, attest.ErrForm)
	})

	It("has one spelling of its envelope", func() {
		var e map[string]any
		Expect(json.Unmarshal(src, &e)).To(Succeed())
		text := string(src)
		payload := e["payload"].(string)
		sig := e["signatures"].([]any)[0].(map[string]any)["sig"].(string)
		one := text[strings.Index(text, `{"keyid"`) : len(text)-2]
		for name, changed := range map[string]string{
			"white space":                              strings.Replace(text, `,"payloadType"`, `, "payloadType"`, 1),
			"a key in other letters":                   strings.Replace(text, `"payloadType"`, `"payloadtype"`, 1),
			"a key twice":                              strings.Replace(text, `"payloadType"`, `"payload":"","payloadType"`, 1),
			"a key twice, the right one last":          strings.Replace(text, `{"payload"`, `{"payload":"e30=","payload"`, 1),
			"an unknown key":                           strings.Replace(text, `{"payload"`, `{"note":"","payload"`, 1),
			"an escape":                                strings.Replace(text, `"payloadType"`, `"payload\u0054ype"`, 1),
			"the signature twice":                      strings.Replace(text, `]`, `,`+one+`]`, 1),
			"a second signature":                       strings.Replace(text, `]`, `,{"keyid":"","sig":"AA=="}]`, 1),
			"no signature":                             strings.Replace(text, one, ``, 1),
			"no keyid":                                 strings.Replace(text, k.ID(), ``, 1),
			"another keyid":                            strings.Replace(text, k.ID(), newKey().ID(), 1),
			"a keyid in capitals":                      strings.Replace(text, k.ID(), strings.ToUpper(k.ID()), 1),
			"another payload type":                     strings.Replace(text, attest.PayloadType, "application/json", 1),
			"base64 without padding":                   strings.Replace(text, sig, strings.TrimRight(sig, "="), 1),
			"base64 with spare bits":                   strings.Replace(text, sig, sig[:len(sig)-3]+string(sig[len(sig)-3]+1)+"==", 1),
			"base64 for addresses":                     strings.Replace(text, payload, base64.URLEncoding.EncodeToString([]byte("{\"predicate\":{\"key\":\"\xff\xfe\"}}")), 1),
			"line ends in base64":                      strings.Replace(text, payload, payload[:64]+`\n`+payload[64:], 1),
			"a short signature":                        strings.Replace(text, sig, base64.StdEncoding.EncodeToString(make([]byte, 63)), 1),
			"another text behind":                      text + text,
			"an array of it":                           "[" + text + "]",
			"a null":                                   "null",
			"UTF-16":                                   "\xff\xfe" + text,
			"a payload that is no JSON":                strings.Replace(text, payload, "AAAA", 1),
			"a payload that is a list nested too deep": string(signed(k, attest.PayloadType, bytes.Repeat([]byte("["), 100_000))),
		} {
			Expect(changed).NotTo(Equal(text), name)
			refused([]byte(changed), nil, attest.ErrForm, name)
			refused([]byte(changed), pub, attest.ErrForm, name)
		}
	})

	It("holds with one S only", func() {
		// RFC 8032, section 5.1.7: S must be below the group's order L, or S+L would do as well.
		var e dsse.Envelope
		Expect(json.Unmarshal(src, &e)).To(Succeed())
		sig, err := base64.StdEncoding.DecodeString(e.Signatures[0].Sig)
		Expect(err).NotTo(HaveOccurred())
		l, _ := new(big.Int).SetString("27742317777372353535851937790883648493", 10)
		l.Add(l, new(big.Int).Lsh(big.NewInt(1), 252))
		s := slices.Clone(sig[32:])
		slices.Reverse(s)
		more := new(big.Int).Add(new(big.Int).SetBytes(s), l).FillBytes(make([]byte, 32))
		slices.Reverse(more)
		forged := bytes.Replace(src, []byte(e.Signatures[0].Sig), []byte(base64.StdEncoding.EncodeToString(append(slices.Clone(sig[:32]), more...))), 1)
		refused(forged, pub, attest.ErrSignature)
		refused(forged, nil, attest.ErrSignature)
	})

	It("is refused when another key signed the same statement", func() {
		body, err := attest.Body(subjects(), withKey(sample(), pub))
		Expect(err).NotTo(HaveOccurred())
		Expect(signed(k, attest.PayloadType, body)).To(Equal(src))
		other := newKey()
		refused(signed(other, attest.PayloadType, body), nil, attest.ErrForm) // keyid and key differ
		forged := bytes.Replace(signed(other, attest.PayloadType, body), []byte(other.ID()), []byte(k.ID()), 1)
		refused(forged, nil, attest.ErrSignature)
		refused(forged, pub, attest.ErrSignature)
	})

	It("has one form of its statement, even for who has the key", func() {
		good, err := attest.Body(subjects(), withKey(sample(), pub))
		Expect(err).NotTo(HaveOccurred())
		for old, changed := range map[string]string{
			`{"_type"`:                        ` {"_type"`,
			`https://in-toto.io/Statement/v1`: `https://in-toto.io/Statement/v0.1`,
			attest.PredicateType:              attest.PredicateType + "0",
			`"predicateType"`:                 `"predicate_type"`,
			`"sha256":"ba`:                    `"sha512":"00","sha256":"ba`,
			`"sha256":"e3`:                    `"sha256":"E3`,
			`"name":"decision.json"`:          `"name":"decision.json","uri":"x"`,
			`decision.json`:                   `zecision.json`,
			`decision.json"`:                  `../cision.json"`,
			`"claim":{`:                       `"claim":{"extra":1,`,
			`"frames":9000`:                   `"frames":9000.0`,
			`"frames":734,"name"`:             `"frames":-1,"name"`,
			`"high":734`:                      `"high":733`,
			`"high":734,`:                     `"high":9007199254740993,`,
			`"standing":"record"`:             `"standing":"best"`,
			`"standing":"recor`:               `"standing":"recor\u0064","x":"`,
			`"rests_on_video":[]`:             `"rests_on_video":null`,
			`T22:00:00Z`:                      `T22:00:00+00:00`,
			`25T22:00:00Z`:                    `25T25:00:00Z`,
			`"ties":"earlier"`:                `"ties":"later"`,
			`"lockstep":2,`:                   `"lockstep":3,`,
			`"by":"Bo"`:                       `"by":"B\u0000"`,
			`"program_hash":"ba`:              `"program_hash":"ga`,
			`"index":3`:                       `"index":3.5`,
			`"seconds":12.`:                   `"seconds":-12.`,
		} {
			Expect(bytes.Count(good, []byte(old))).To(BeNumerically(">=", 1), old)
			src := signed(k, attest.PayloadType, bytes.Replace(good, []byte(old), []byte(changed), 1))
			refused(src, nil, attest.ErrForm, changed)
			refused(src, pub, attest.ErrForm, changed)
		}
		refused(signed(k, "application/json", good), nil, attest.ErrForm)
		refused(signed(k, attest.PayloadType, append(slices.Clone(good), '\n')), nil, attest.ErrForm)
	})

	DescribeTable("is not made of what it could not say", func(change func(*attest.Predicate, *[]attest.Subject)) {
		p, xs := sample(), subjects()
		change(&p, &xs)
		_, err := attest.Sign(k, xs, p)
		Expect(err).To(HaveOccurred())
	},
		Entry("no subjects", func(_ *attest.Predicate, xs *[]attest.Subject) { *xs = nil }),
		Entry("a subject twice", func(_ *attest.Predicate, xs *[]attest.Subject) { *xs = append(*xs, (*xs)[0]) }),
		Entry("a subject outside", func(_ *attest.Predicate, xs *[]attest.Subject) { (*xs)[0].Name = "../x" }),
		Entry("a wrong hash", func(_ *attest.Predicate, xs *[]attest.Subject) { (*xs)[0].SHA256 = "00" }),
		Entry("a number beyond doubles", func(p *attest.Predicate, _ *[]attest.Subject) { p.Frames = 1<<53 + 1 }),
		Entry("a negative count", func(p *attest.Predicate, _ *[]attest.Subject) { p.Unseen = -1 }),
		Entry("a text that is not UTF-8", func(p *attest.Predicate, _ *[]attest.Subject) { p.Claim.By = "\xff" }),
		Entry("control characters", func(p *attest.Predicate, _ *[]attest.Subject) { p.Claim.By = "a\x1b[2J" }),
		Entry("a long text", func(p *attest.Predicate, _ *[]attest.Subject) { p.Claim.Name = strings.Repeat("x", 4097) }),
		Entry("nothing before, though a record fell", func(p *attest.Predicate, _ *[]attest.Subject) { p.Before = nil }),
		Entry("benches out of order", func(p *attest.Predicate, _ *[]attest.Subject) { p.Benches = append(p.Benches, p.Benches[0]) }),
		Entry("a time that is none", func(p *attest.Predicate, _ *[]attest.Subject) { p.Certified = "yesterday" }),
	)

	It("needs an Ed25519 key", func() {
		other, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
		Expect(err).NotTo(HaveOccurred())
		_, err = attest.Sign(other, subjects(), sample())
		Expect(err).To(MatchError(ContainSubstring("not an Ed25519 key")))
	})
})

func withKey(p attest.Predicate, pub ed25519.PublicKey) attest.Predicate {
	p.Key = attest.PublicPEM(pub)
	return p
}
