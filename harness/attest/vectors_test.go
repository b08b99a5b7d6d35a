package attest_test

import (
	"crypto"
	"crypto/ecdsa"
	"crypto/ed25519"
	"crypto/elliptic"
	"crypto/sha256"
	"crypto/sha512"
	"encoding/base64"
	"encoding/hex"
	"math/big"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"github.com/secure-systems-lab/go-securesystemslib/dsse"

	"latchproof/harness/attest"
)

func unhex(s string) []byte {
	GinkgoHelper()
	b, err := hex.DecodeString(s)
	Expect(err).NotTo(HaveOccurred())
	return b
}

// The secret key of RFC 8032, section 7.1, test 1.
const test1 = "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60"

func rfcKey() *attest.Key {
	GinkgoHelper()
	return attest.KeyOf(ed25519.NewKeyFromSeed(unhex(test1)))
}

var _ = Describe("outside values", func() {
	abc := sha512.Sum512([]byte("abc"))

	// S. Josefsson, I. Liusvaara, RFC 8032 (2017), section 7.1.
	DescribeTable("of Ed25519", func(secret, public string, message []byte, signature string) {
		k := attest.KeyOf(ed25519.NewKeyFromSeed(unhex(secret)))
		pub := k.Public().(ed25519.PublicKey)
		Expect(hex.EncodeToString(pub)).To(Equal(public))
		sig, err := k.Sign(nil, message, crypto.Hash(0))
		Expect(err).NotTo(HaveOccurred())
		Expect(hex.EncodeToString(sig)).To(Equal(signature))
		Expect(ed25519.Verify(pub, message, sig)).To(BeTrue())
		for i := range sig {
			for bit := range 8 {
				sig[i] ^= 1 << bit
				Expect(ed25519.Verify(pub, message, sig)).To(BeFalse(), "bit %d of byte %d", bit, i)
				sig[i] ^= 1 << bit
			}
		}
	},
		Entry("test 1", test1, "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a", []byte{},
			"e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b"),
		Entry("test 2", "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb", "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c", []byte{0x72},
			"92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"),
		Entry("test 3", "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7", "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025", []byte{0xaf, 0x82},
			"6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a"),
		Entry("test SHA(abc)", "833fe62409237b9d62ec77587520911e9a759cec1d19755b7da901b96dca3d42", "ec172b93ad5e563bf4932c70e1245034c35467ef2efd4d64ebf819683467e2bf", abc[:],
			"dc2a4459e7369633a52b1bf277839a00201009a3efbf3ecb69bea2186c26b58909351fc9ac90b3ecfdfbc7c66431e0303dca179c138ac17ad9bef1177331a704"),
	)

	// DSSE Protocol 1.0.2 (2024), "Test Vectors", and edge cases worked out from its
	// "Signature Definition".
	DescribeTable("of the encoding that is signed", func(kind, body, want string) {
		Expect(hex.EncodeToString(dsse.PAE(kind, []byte(body)))).To(Equal(want))
	},
		Entry("the specification's example", "http://example.com/HelloWorld", "hello world",
			"44535345763120323920687474703a2f2f6578616d706c652e636f6d2f48656c6c6f576f726c642031312068656c6c6f20776f726c64"),
		Entry("nothing", "", "", "445353457631203020203020"),
		Entry("no body", "a", "", "44535345763120312061203020"),
		Entry("no type", "", "a", "44535345763120302020312061"),
		Entry("lengths in bytes", "\u20ac", "\x00\xff", "445353457631203320e282ac20322000ff"),
	)

	It("of the specification's signature, ECDSA on P-256 over SHA-256", func() {
		number := func(s string) []byte { n, _ := new(big.Int).SetString(s, 10); return n.FillBytes(make([]byte, 32)) }
		x := number("46950820868899156662930047687818585632848591499744589407958293238635476079160")
		y := number("5640078356564379163099075877009565129882514886557779369047442380624545832820")
		pub, err := ecdsa.ParseUncompressedPublicKey(elliptic.P256(), append(append([]byte{4}, x...), y...))
		Expect(err).NotTo(HaveOccurred())
		sig, err := base64.StdEncoding.DecodeString("A3JqsQGtVsJ2O2xqrI5IcnXip5GToJ3F+FnZ+O88SjtR6rDAajabZKciJTfUiHqJPcIAriEGAHTVeCUjW2JIZA==")
		Expect(err).NotTo(HaveOccurred())
		sum := sha256.Sum256(dsse.PAE("http://example.com/HelloWorld", []byte("hello world")))
		Expect(ecdsa.Verify(pub, sum[:], new(big.Int).SetBytes(sig[:32]), new(big.Int).SetBytes(sig[32:]))).To(BeTrue())
	})

	// Computed with Python's cryptography 38.0.4 and with PyNaCl 1.5.0.
	It("of an Ed25519 signature over the specification's example", func() {
		sig, err := rfcKey().Sign(nil, dsse.PAE("http://example.com/HelloWorld", []byte("hello world")), crypto.Hash(0))
		Expect(err).NotTo(HaveOccurred())
		Expect(hex.EncodeToString(sig)).To(Equal("e031d7dd99f8aa904abc48fb99a13c3bdbbd6e35c49cf2cb9f25d5509d8f5c947c0d22dc2f7403a45bdf24e8f7a41fd23c7b25e898386e8c6c31be8abee60007"))
	})
})
