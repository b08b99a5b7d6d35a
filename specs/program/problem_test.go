package program_test

import (
	"errors"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/specs/program"
)

var _ = Describe("a bad program", func() {
	check := func(src string, want ...string) {
		GinkgoHelper()
		p, err := program.Parse("x.prog", []byte(src), ntsc, program.Limits{})
		Expect(p).To(BeNil())
		Expect(err).To(HaveOccurred())
		Expect(strings.Split(err.Error(), "\n")).To(Equal(want))
		var list program.ErrorList
		Expect(errors.As(err, &list)).To(BeTrue())
		Expect(list).To(HaveLen(len(want)))
	}

	DescribeTable("as a whole", check,
		Entry("empty", "", `x.prog:1:1: empty file: the first line must be "program 1"`),
		Entry("a byte order mark only", "\ufeff", `x.prog:1:1: empty file: the first line must be "program 1"`),
		Entry("header only", "program 1\n", `x.prog:1:1: the program has no reads`),
		Entry("marks only", "program 1\nmark a\n# c\n", `x.prog:1:1: the program has no reads`),
		Entry("no header", "rest 5\n", `x.prog:1:1: missing header: the first line must be "program 1"`),
		Entry("blank lines only", "\n\n", `x.prog:1:1: missing header: the first line must be "program 1"`),
		Entry("header too late", "# c\nprogram 1\nrest 1\n",
			`x.prog:1:1: missing header: the first line must be "program 1"`,
			`x.prog:2:1: the header belongs on the first line only`),
		Entry("header twice", "program 1\nrest 1\nprogram 1\n", `x.prog:3:1: the header belongs on the first line only`),
		Entry("no version", "program\nrest 1\n", `x.prog:1:1: missing version: the first line must be "program 1"`),
		Entry("wrong version", "program 2\nrest 1\n", `x.prog:1:9: program version "2" is not known; this reader knows version 1`),
		Entry("more in the header", "program 1 2\nrest 1\n", `x.prog:1:11: unexpected "2" after "1"`),
		Entry("header in capitals", "PROGRAM 1\nrest 1\n",
			`x.prog:1:1: missing header: the first line must be "program 1"`,
			`x.prog:1:1: unknown statement "PROGRAM"; did you mean "program"?`),
		Entry("binary with NUL", "program 1\nrest\x001\n", `x.prog:2:5: binary data: byte 0x00`),
		Entry("binary without NUL", "\x89PNG\r\n\x1a\nfoo", `x.prog:1:1: not UTF-8 text: byte 0x89`),
		Entry("binary further on", "é\né\xff", `x.prog:2:2: not UTF-8 text: byte 0xff`),
		Entry("UTF-16", "\xff\xfep\x00r\x00", `x.prog:1:1: UTF-16 text; save it as UTF-8`),
		Entry("old line ends", "program 1\rrest 1\r", `x.prog:1:10: control character U+000D`),
	)

	DescribeTable("line by line",
		func(line string, want ...string) { check("program 1\ntap a\n"+line+"\n", want...) },
		Entry(nil, "rest", `x.prog:3:1: rest needs a count, as in "rest 60"`),
		Entry(nil, "rest 0", `x.prog:3:6: count 0 must be 1 or more`),
		Entry(nil, "rest -3", `x.prog:3:6: count -3 must be 1 or more`),
		Entry(nil, "rest -99999999999999999999", `x.prog:3:6: count -99999999999999999999 must be 1 or more`),
		Entry(nil, "rest 1.5", `x.prog:3:6: "1.5" is not a whole number`),
		Entry(nil, "rest 1_000", `x.prog:3:6: "1_000" is not a whole number`),
		Entry(nil, "rest 0x10", `x.prog:3:6: "0x10" is not a whole number`),
		Entry(nil, "rest ten", `x.prog:3:6: "ten" is not a whole number`),
		Entry(nil, "rest ٣", `x.prog:3:6: "٣" is not a whole number`),
		Entry(nil, "rest +3", `x.prog:3:6: "+" is not a whole number`, `x.prog:3:7: unexpected "3" after "+"`),
		Entry(nil, "rest 5 reads", `x.prog:3:8: unexpected "reads" after "5"`),
		Entry(nil, "rest\u00a05", `x.prog:3:1: unknown statement "rest\u00a05"; did you mean "rest"?`),
		Entry(nil, "Rest 5", `x.prog:3:1: unknown statement "Rest"; did you mean "rest"?`),
		Entry(nil, "\thodl a for 5", `x.prog:3:2: unknown statement "hodl"; did you mean "hold"?`),
		Entry(nil, "frobnicate", `x.prog:3:1: unknown statement "frobnicate"`),
		Entry(nil, "tap", `x.prog:3:1: tap needs a button, as in "tap start"`),
		Entry(nil, "tap a 3", `x.prog:3:7: "3" needs a "+" before it`, `x.prog:3:7: unknown button "3"; console ntsc-8bit has a b select start up down left right`),
		Entry(nil, "hold", `x.prog:3:1: hold needs "for" and a count, as in "hold a for 5"`),
		Entry(nil, "hold a 5", `x.prog:3:1: hold needs "for" and a count, as in "hold a for 5"`),
		Entry(nil, "hold for 5", `x.prog:3:6: hold needs a button; for none use rest`),
		Entry(nil, "hold a for", `x.prog:3:8: a count is missing after "for"`),
		Entry(nil, "hold a for 0", `x.prog:3:12: count 0 must be 1 or more`),
		Entry(nil, "hold a for 5 6", `x.prog:3:14: unexpected "6" after "5"`),
		Entry(nil, "hold a b for 5", `x.prog:3:8: "b" needs a "+" before it`),
		Entry(nil, "hold a+ for 5", `x.prog:3:7: a button is missing after "+"`),
		Entry(nil, "hold +a for 5", `x.prog:3:6: a button is missing before "+"`),
		Entry(nil, "hold a++b for 5", `x.prog:3:8: a button is missing before "+"`),
		Entry(nil, "hold a+b+a for 5", `x.prog:3:10: button "a" twice`),
		Entry(nil, "hold a+p1:a for 5", `x.prog:3:8: button "p1:a" twice`),
		Entry(nil, "hold p2:a+a+p2:a for 5", `x.prog:3:13: button "p2:a" twice`),
		Entry(nil, "hold strat for 5", `x.prog:3:6: unknown button "strat"; did you mean "start"?`),
		Entry(nil, "hold p2:A for 5", `x.prog:3:6: unknown button "A"; did you mean "a"?`),
		Entry(nil, "hold x for 5", `x.prog:3:6: unknown button "x"; console ntsc-8bit has a b select start up down left right`),
		Entry(nil, "hold p3:a for 5", `x.prog:3:6: unknown port "p3"; ports are p1 and p2`),
		Entry(nil, "hold p2: for 5", `x.prog:3:6: a button is missing after "p2:"`),
		Entry(nil, "hold p1:p2:a for 5", `x.prog:3:6: unknown button "p2:a"; console ntsc-8bit has a b select start up down left right`),
		Entry("every problem of a line", "hold é+a+a+lft for 0",
			`x.prog:3:6: unknown button "é"; console ntsc-8bit has a b select start up down left right`,
			`x.prog:3:10: button "a" twice`,
			`x.prog:3:12: unknown button "lft"; did you mean "left"?`,
			`x.prog:3:20: count 0 must be 1 or more`),
		Entry(nil, "mark", `x.prog:3:1: mark needs a name, as in "mark jump"`),
		Entry(nil, "mark a b", `x.prog:3:8: unexpected "b" after "a"`),
		Entry(nil, "mark jump-2", `x.prog:3:6: "jump-2" is not a mark name: letters, digits and "_" from a letter on, such words joined by "-", at most 64 characters`),
		Entry("a mark twice", "mark a\ntap b\nmark a", `x.prog:5:6: mark "a" given twice; first at line 3`),
		Entry("a mark in a repeat", "repeat 2\nmark a\ntap a\nend", `x.prog:4:6: mark "a" inside a repeat: a mark names one read`),
		Entry("a mark in a repeat for once", "repeat 1\nmark a\ntap a\nend", `x.prog:4:6: mark "a" inside a repeat: a mark names one read`),
		Entry(nil, "repeat", `x.prog:3:1: repeat needs a count, as in "repeat 3"`, `x.prog:3:1: repeat is never closed with "end"`),
		Entry(nil, "repeat 0\ntap a\nend", `x.prog:3:8: count 0 must be 1 or more`),
		Entry(nil, "repeat -1\ntap a\nend", `x.prog:3:8: count -1 must be 1 or more`),
		Entry(nil, "repeat 3 times\ntap a\nend", `x.prog:3:10: unexpected "times" after "3"`),
		Entry("unclosed", "repeat 3\n  repeat 2\n    tap a\n  end", `x.prog:3:1: repeat is never closed with "end"`),
		Entry("unclosed twice", "repeat 3\n  repeat 2\n    tap a", `x.prog:3:1: repeat is never closed with "end"`, `x.prog:4:3: repeat is never closed with "end"`),
		Entry("unclosed and too long", "repeat 3\nrest 300000", `x.prog:3:1: repeat is never closed with "end"`, `x.prog:3:8: the program is 900001 reads long; the limit is 864000`),
		Entry(nil, "end", `x.prog:3:1: "end" without "repeat"`),
		Entry(nil, "repeat 2\ntap a\nend repeat", `x.prog:5:5: unexpected "repeat" after "end"`),
		Entry("an empty repeat", "repeat 2\n# nothing\nend", `x.prog:3:1: repeat has no reads in it`),
		Entry("an empty repeat in a repeat", "repeat 2\nrepeat 3\nend\nend", `x.prog:4:1: repeat has no reads in it`),
		Entry("a repeat with only a bad line", "repeat 2\nrest x\nend", `x.prog:4:6: "x" is not a whole number`),
		Entry("bad bytes in a statement", "rest 1\xff", `x.prog:3:7: not UTF-8 text: byte 0xff`),
		Entry("bad bytes in a comment", "repeat 2 # caf\xe9\ntap a\nend", `x.prog:3:15: not UTF-8 text: byte 0xe9`),
		Entry("control characters", "rest 1 # \x07", `x.prog:3:10: control character U+0007`),
		Entry("a long word", strings.Repeat("é", 100), `x.prog:3:1: unknown statement "`+strings.Repeat("é", 40)+`…"`),
	)

	It("has all its problems told at once, in order", func() {
		check("program 1\r\nrest 0\r\nend\r\nrepeat 2\r\n\thold q for 1\r\nmark 1\r\n",
			`x.prog:2:6: count 0 must be 1 or more`,
			`x.prog:3:1: "end" without "repeat"`,
			`x.prog:4:1: repeat is never closed with "end"`,
			`x.prog:5:7: unknown button "q"; console ntsc-8bit has a b select start up down left right`,
			`x.prog:6:6: "1" is not a mark name: letters, digits and "_" from a letter on, such words joined by "-", at most 64 characters`)
	})

	It("has no second port on a console with one", func() {
		one := ntsc
		one.Ports = 1
		_, err := program.Parse("x.prog", []byte("program 1\ntap a + p2:a\n"), one, program.Limits{})
		Expect(err).To(MatchError("x.prog:2:9: console ntsc-8bit has one port; there is no p2"))
	})

	It("has 1000 problems told and the rest counted", func() {
		problems := func(n int) []string {
			_, err := program.Parse("x", []byte("program 1\n"+strings.Repeat("end\n", n)), ntsc, program.Limits{})
			return strings.Split(err.Error(), "\n")
		}
		Expect(problems(1000)).To(HaveLen(1000))
		Expect(problems(1000)[999]).To(Equal(`x:1001:1: "end" without "repeat"`))
		Expect(problems(1002)).To(HaveLen(1001))
		Expect(problems(1002)[1000]).To(Equal(`x:1001:1: and 2 problems more`))
	})
})
