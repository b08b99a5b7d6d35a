package attest_test

import (
	"crypto/sha256"
	"encoding/hex"
	"math"
	"strconv"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/attest"
)

// Values of A. Rundgren, B. Jordan, S. Erdtman, RFC 8785 (2020), section 3.2 and
// appendix B, and of the test data of its author; all reproduced with npm
// canonicalize 4.0.0.
var _ = Describe("canonical JSON", func() {
	DescribeTable("is that of RFC 8785", func(in, out, sum string) {
		got, err := attest.Canonical([]byte(in))
		Expect(err).NotTo(HaveOccurred())
		if out != "" {
			Expect(string(got)).To(Equal(out))
		}
		have := sha256.Sum256(got)
		Expect(hex.EncodeToString(have[:])).To(Equal(sum), "%s", got)
		Expect(attest.Canonical(got)).To(Equal(got))
	},
		Entry("section 3.2.2",
			`{ "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
			  "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/", "literals": [null, true, false] }`,
			`{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}`,
			"2d5e01a318d0f0879ab568c4be289c8b1f64ef8921a53c6277d5e069978baacb"),
		Entry("objects in objects", `{"1":{"f":{"f":"hi","F":5},"\n":56.0},"10":{},"":"empty","a":{},"111":[{"e":"yes","E":"no"}],"A":{}}`,
			`{"":"empty","1":{"\n":56,"f":{"F":5,"f":"hi"}},"10":{},"111":[{"E":"no","e":"yes"}],"A":{},"a":{}}`,
			"605f65004ec2db7692522a0852c22f1c989e036d547e88963d1a3143cf3195d5"),
		Entry("an array", `[56,{"d":true,"10":null,"1":[]}]`, `[56,{"1":[],"10":null,"d":true}]`,
			"099601b171cafed97c333f8878d68e7f8c8f795412adb34b2fdcf0e7c7beac42"),
		Entry("no normalisation of Unicode", "{\"Unnormalized Unicode\":\"A\\u030a\"}", "{\"Unnormalized Unicode\":\"A\u030a\"}",
			"0d99aad92a125196ff887876643fd3206786a84ddce2cee52ba4ad256d2381d3"),
		Entry("keys by UTF-16 code units, section 3.2.3",
			`{"\u20ac":"Euro Sign","\r":"Carriage Return","\u000a":"Newline","1":"One","\u0080":"Control\u007f","\ud83d\ude02":"Smiley",`+
				`"\u00f6":"Latin Small Letter O With Diaeresis","\ufb33":"Hebrew Letter Dalet With Dagesh","</script>":"Browser Challenge"}`, "",
			"6af595a9aa80110b964b4de3f82a05fa6ae7423005019bacfa2620dddc4e94d1"),
	)

	It("spells doubles as RFC 8785, appendix B", func() {
		for _, v := range [][2]string{
			{"0000000000000000", "0"}, {"8000000000000000", "0"},
			{"0000000000000001", "5e-324"}, {"8000000000000001", "-5e-324"},
			{"7fefffffffffffff", "1.7976931348623157e+308"}, {"ffefffffffffffff", "-1.7976931348623157e+308"},
			{"4340000000000000", "9007199254740992"}, {"c340000000000000", "-9007199254740992"},
			{"4430000000000000", "295147905179352830000"}, {"44b52d02c7e14af5", "9.999999999999997e+22"},
			{"44b52d02c7e14af6", "1e+23"}, {"44b52d02c7e14af7", "1.0000000000000001e+23"},
			{"444b1ae4d6e2ef4e", "999999999999999700000"}, {"444b1ae4d6e2ef4f", "999999999999999900000"},
			{"444b1ae4d6e2ef50", "1e+21"}, {"3eb0c6f7a0b5ed8c", "9.999999999999997e-7"},
			{"3eb0c6f7a0b5ed8d", "0.000001"}, {"41b3de4355555553", "333333333.3333332"},
			{"41b3de4355555554", "333333333.33333325"}, {"41b3de4355555555", "333333333.3333333"},
			{"41b3de4355555556", "333333333.3333334"}, {"41b3de4355555557", "333333333.33333343"},
			{"becbf647612f3696", "-0.0000033333333333333333"}, {"43143ff3c1cb0959", "1424953923781206.2"},
		} {
			bits, err := strconv.ParseUint(v[0], 16, 64)
			Expect(err).NotTo(HaveOccurred())
			Expect(attest.DoubleText(math.Float64frombits(bits))).To(Equal(v[1]), v[0])
		}
	})

	DescribeTable("refuses", func(src string) {
		_, err := attest.Canonical([]byte(src))
		Expect(err).To(HaveOccurred())
	},
		Entry("a key twice", `{"a":1,"a":1}`),
		Entry("a key twice, once escaped", `{"a":1,"\u0061":1}`),
		Entry("an integer that a double does not hold", `9007199254740993`),
		Entry("a number beyond doubles", `1e309`),
		Entry("what is not a number", `NaN`),
		Entry("two values", `1 2`),
		Entry("nothing", ` `),
		Entry("bytes that are not UTF-8", "\"\xff\""),
		Entry("a text cut short", `{"a":[1,`),
		Entry("depth", `[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]`),
	)
})
