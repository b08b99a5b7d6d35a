package claim_test

import (
	"bytes"
	"encoding/json"
	"html/template"
	"strings"
	"unicode"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"golang.org/x/net/html"

	"latchproof/harness/checks"
	"latchproof/harness/claim"
)

// badClaims are changes of claimText and what is said of them. schema says that
// the JSON Schema refuses the result too.
var badClaims = []struct {
	what, from, to string
	schema         bool
	want           []string
}{
	{"version 2", "version: 1", "version: 2", true, []string{"1:10: version: version 2 is not known; this program reads version 1"}},
	{"version in hexadecimal", "version: 1", "version: 0x1", false, []string{"1:10: version: want a whole number in plain decimal digits, have 0x1"}},
	{"no frames", "frames: 34\n", "", true, []string{"1:1: frames: missing"}},
	{"negative frames", "34", "-1", true, []string{"6:9: frames: -1 is below 0"}},
	{"too many frames", "34", "1728001", true, []string{"6:9: frames: 1728001 is above 1728000"}},
	{"frames beyond 64 bits", "34", "99999999999999999999", true, []string{"6:9: frames: 99999999999999999999 is above 1728000"}},
	{"frames in hexadecimal", "34", "0x22", false, []string{"6:9: frames: want a whole number in plain decimal digits, have 0x22"}},
	{"frames in octal", "34", "0o42", false, []string{"6:9: frames: want a whole number in plain decimal digits, have 0o42"}},
	{"frames with a leading zero", "34", "034", false, []string{"6:9: frames: want a whole number in plain decimal digits, have 034"}},
	{"frames with an exponent", "34", "1e2", false, []string{"6:9: frames: want a whole number in plain decimal digits, have 1e2"}},
	{"frames with a fraction", "34", "34.5", true, []string{"6:9: frames: want a whole number in plain decimal digits, have 34.5"}},
	{"frames with underscores", "34", "3_4", false, []string{"6:9: frames: want a whole number in plain decimal digits, have 3_4"}},
	{"frames that are no number", "34", ".nan", false, []string{"6:9: frames: want a whole number in plain decimal digits, have .nan"}},
	{"frames that have no end", "34", ".inf", false, []string{"6:9: frames: want a whole number in plain decimal digits, have .inf"}},
	{"frames in quotes", "34", "'34'", true, []string{`6:9: frames: want a whole number, have the text "34"`}},
	{"an unknown key", "frames: 34", "frames: 34\nframe: 34", true, []string{"7:1: frame: unknown key; did you mean frames?"}},
	{"a key twice", "frames: 34", "frames: 34\nframes: 35", false, []string{"7:1: frames: key given twice; first on line 6"}},
	{"a category and a spec", "frames", "spec: a.yaml\nframes", true, []string{"6:7: spec: beside category; give one of them"}},
	{"no category and no spec", "category: walk\n", "", true, []string{"1:1: nothing to claim against; give category, or spec"}},
	{"a category with a slash", "walk\nframes", "../walk\nframes", true, []string{"5:11: category: want a category of letters, digits, `_`, `.` and `-`, have \"../walk\""}},
	{"a category too long", "walk\nframes", strings.Repeat("w", 41) + "\nframes", true, []string{"5:11: category: want a category of letters, digits, `_`, `.` and `-` of 1 to 40 characters, have 41"}},
	{"two documents", "frames: 34\n", "frames: 34\n---\na: b\n", false, []string{"7:1: a second document; a file holds one"}},
	{"an anchor", "by: Some", "by: &a Some", false, []string{"3:5: anchors are not allowed; write the value out where it is needed"}},
	{"an alias", "by: Some Name", "by: &a Some\nfor: *a", false, []string{"3:5: anchors are not allowed; write the value out where it is needed", "4:1: for: unknown key; known are by, category, claim, frames, program, spec, version", "4:6: aliases are not allowed; write the value out"}},
	{"a merge key", "frames", "<<: {a: b}\nframes", false, []string{"6:1: merge keys are not allowed; write the keys out"}},
	{"a tag", "by: Some", "by: !!binary Some", false, []string{"3:5: tags are not allowed"}},
	{"a list for a text", "Some Name", "[a, b]", true, []string{"3:5: by: want a name of visible characters and single spaces, have a list"}},
	{"a deep nest", "Some Name", strings.Repeat("[", 30) + strings.Repeat("]", 30), true, []string{"3:5: by: want a name of visible characters and single spaces, have a list", "3:14: nested deeper than 10"}},
	{"NUL", "Some Name", "Some\x00Name", false, []string{"3:9: control character 0x00; only plain text is allowed"}},
	{"an escape sequence of a terminal", "Some Name", "Some\x1b[31mName", false, []string{"3:9: control character 0x1b; only plain text is allowed"}},
	{"bytes that are no UTF-8", "Some Name", "Some\xff\xfeName", false, []string{"3:9: byte 0xff is not UTF-8 text"}},
	{"UTF-16", claimText, "\xff\xfev\x00e\x00", false, []string{"1:1: byte 0xff is not UTF-8 text"}},
	{"a surrogate", "Some Name", "Some\xed\xa0\x80Name", false, []string{"3:9: byte 0xed is not UTF-8 text"}},
	{"nothing", claimText, "", false, []string{"1:1: the file is empty"}},
	{"an escaped NUL", "Some Name", `"Some\0Name"`, true, []string{`3:5: by: want a name of visible characters and single spaces, have "Some\x00Name"`}},
	{"an absolute program", "fast.prog", "/etc/passwd", true, []string{`4:10: program: "/etc/passwd" is an absolute path; name a file inside the claim's folder`}},
	{"a program on a drive", "fast.prog", `'C:\a.prog'`, true, []string{`4:10: program: "C:\\a.prog" is an absolute path; name a file inside the claim's folder`}},
	{"a program above", "fast.prog", "a/../../b", true, []string{"4:10: program: \"a/../../b\" can leave the claim's folder; name a file inside it without `..`"}},
	{"a program on a share", "fast.prog", `'\\host\share\a'`, true, []string{`4:10: program: "\\\\host\\share\\a" is an absolute path; name a file inside the claim's folder`}},
	{"a program with a hidden name", "fast.prog", ".fast.prog", true, []string{`4:10: program: want a button program inside the claim's folder, such as fast.prog, have ".fast.prog"`}},
	{"a program that is a device", "fast.prog", "NUL.prog", false, []string{`4:10: program: "NUL.prog" is taken for a device by some systems`}},
	{"a program in a device", "fast.prog", "com7/a.prog", false, []string{`4:10: program: "com7/a.prog" is taken for a device by some systems`}},
	{"a program with letters of a script", "fast.prog", "größe.prog", true, []string{"4:10: program: \"größe.prog\" holds more than ASCII letters, digits and `_`, with single `-`, `.` and spaces between them"}},
	{"a program with a long name", "fast.prog", strings.Repeat("a", 61), false, []string{`4:10: program: "` + strings.Repeat("a", 61) + `" has a part of 61 bytes; at most 60 are allowed`}},
	{"a program with a long path", "fast.prog", strings.Repeat("a", 40) + "/" + strings.Repeat("a", 40), true, []string{`4:10: program: "` + strings.Repeat("a", 40) + "/" + strings.Repeat("a", 40) + `" is 81 bytes long; at most 80 are allowed`}},
	{"a program with a very long name", "fast.prog", strings.Repeat("a", 5000), true, []string{"4:10: program: want a button program inside the claim's folder, such as fast.prog of 1 to 200 characters, have 5000"}},
}

// badNames are names of submitters that are refused by Parse and by the schema.
var badNames = map[string]string{
	"none":                         `""`,
	"a space":                      `" "`,
	"two spaces":                   `"a  b"`,
	"a space at the end":           `"a "`,
	"two lines":                    `"a\nb"`,
	"a carriage return":            `"a\rb"`,
	"a line separator":             `"a\u2028b"`,
	"a tab":                        `"a\tb"`,
	"a bell":                       `"a\ab"`,
	"a C1 control":                 `"a\x9b31mb"`,
	"a right-to-left override":     `"a\u202eb"`,
	"a right-to-left mark":         `"a\u200fb"`,
	"an isolate":                   `"\u2066a\u2069"`,
	"a zero width space":           `"a\u200bb"`,
	"nothing but zero width":       `"\u200b\u200c\u200d"`,
	"a zero width joiner":          `"a\u200db"`,
	"a word joiner":                `"a\u2060b"`,
	"a byte order mark inside":     `"a\ufeffb"`,
	"a soft hyphen":                `"a\u00adb"`,
	"a no-break space":             `"a\u00a0b"`,
	"an ideographic space":         `"a\u3000b"`,
	"a Hangul filler":              `"\u3164"`,
	"a half-width Hangul filler":   `"\uffa0"`,
	"a blank Braille cell":         `"\u2800"`,
	"a grapheme joiner":            `"a\u034fb"`,
	"a variation selector":         `"a\ufe0f"`,
	"a tag character":              `"a\U000e0041"`,
	"a further variation selector": `"a\U000e0100"`,
	"a mark with nothing under it": `"\u0301a"`,
	"a mark on a space":            `"a \u0301b"`,
	"a private character":          `"a\ue000"`,
	"a character that is none":     `"a\uffff"`,
	"an interlinear annotation":    `"a\ufff9b"`,
	"a Mongolian vowel separator":  `"a\u180eb"`,
	"81 characters":                `"` + strings.Repeat("a", 81) + `"`,
	"a number":                     `5`,
	"nothing given":                ``,
	"true":                         `true`,
}

var goodNames = []string{
	"a", "Some Name", "O'Brien-Smith, Jr.", "<script>alert(1)</script>", `"quoted" & \back`, "=cmd|x", "名前 ひろし", "Ĝis la revido",
	"אבג דה", "e\u0301te\u0301", "Tiến Nguyễn", "🏮", "../../etc/passwd", "$(reboot)", "%s%n", strings.Repeat("a", 80),
}

func quoted(s string) string {
	b, err := json.Marshal(s)
	Expect(err).NotTo(HaveOccurred())
	return string(b)
}

var _ = Describe("a claim file", func() {
	for _, c := range badClaims {
		It("with "+c.what+" is refused, and said where", func() {
			Expect(claimText).To(ContainSubstring(c.from))
			b, _ := newClaim()
			file := b.put("fast.claim.yaml", strings.Replace(claimText, c.from, c.to, 1))
			_, err := claim.Open(file, newHouse(), checks.All)
			want := []string{}
			for _, w := range c.want {
				want = append(want, "fast.claim.yaml:"+w)
			}
			Expect(b.lines(err)).To(Equal(want))
		})
	}

	It("refuses hostile names, and says so without repeating what cannot be seen", func() {
		for what, name := range badNames {
			_, err := claim.Parse("a", []byte(strings.Replace(claimText, "Some Name", name, 1)))
			Expect(err).To(HaveOccurred(), what)
			for _, r := range err.Error() {
				Expect(unicode.IsPrint(r) && !unicode.In(r, unicode.M, unicode.Other_Default_Ignorable_Code_Point)).To(BeTrue(), "%s: %q", what, err.Error())
			}
			_, err = claim.ParseHouse("a", []byte(strings.Replace(houseText, "Linden Street", name, 1)))
			Expect(err).To(HaveOccurred(), what)
		}
	})

	It("counts columns as a terminal does, and marks", func() {
		parse := func(by string) error {
			_, err := claim.Parse("a", []byte(strings.Replace(claimText, "Some Name", quoted(by), 1)))
			return err
		}
		Expect(parse(strings.Repeat("灯", 40))).To(Succeed())
		Expect(parse(strings.Repeat("灯", 41))).To(MatchError("a:3:5: by: want a name of visible characters and single spaces of at most 80 columns, have 82"))
		Expect(parse("a\u0301\u0302\u0303")).To(Succeed())
		Expect(parse("a\u0301\u0302\u0303\u0304")).To(MatchError("a:3:5: by: more than 3 marks on one letter"))
	})

	It("takes names that are only strange, which can be shown everywhere", func() {
		for _, name := range goodNames {
			c, err := claim.Parse("a", []byte(strings.Replace(claimText, "Some Name", quoted(name), 1)))
			Expect(err).NotTo(HaveOccurred(), name)
			Expect(c.By).To(Equal(name))
			// As JSON.
			var back string
			Expect(json.Unmarshal([]byte(quoted(c.By)), &back)).To(Succeed())
			Expect(back).To(Equal(name))
			// As HTML: one text, and nothing else comes of it.
			var out bytes.Buffer
			Expect(template.Must(template.New("").Parse(`<p title="{{.}}">{{.}}</p>`)).Execute(&out, c.By)).To(Succeed())
			doc, err := html.Parse(&out)
			Expect(err).NotTo(HaveOccurred())
			p := doc.FirstChild.LastChild.FirstChild
			Expect(p.Attr[0].Val).To(Equal(name))
			Expect(p.FirstChild.Data).To(Equal(name))
			Expect(p.FirstChild.NextSibling).To(BeNil())
			Expect(p.NextSibling).To(BeNil())
		}
	})
})
