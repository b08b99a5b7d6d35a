package program_test

import (
	"bytes"
	"errors"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/specs/program"
)

var _ = Describe("the CSV form", func() {
	export := func(p *program.Program) string {
		GinkgoHelper()
		var b bytes.Buffer
		Expect(p.ExportCSV(&b)).To(Succeed())
		return b.String()
	}

	It("is written with rest as gaps and CR LF", func() {
		Expect(export(parse(street))).To(Equal("from,to,buttons\r\n60,79,right\r\n80,124,right+b\r\n125,129,right+b+a\r\n" +
			"130,130,start\r\n141,141,start\r\n152,152,start\r\n163,170,right+p2:a\r\n"))
	})

	It("keeps rest at the end", func() {
		Expect(export(parse("program 1\ntap a\nrest 9\n"))).To(Equal("from,to,buttons\r\n0,0,a\r\n1,9,\r\n"))
		Expect(export(parse("program 1\nrest 9\n"))).To(Equal("from,to,buttons\r\n0,8,\r\n"))
	})

	It("keeps the hash there and back", func() {
		for _, src := range []string{street, "program 1\nrest 1\n", "program 1\ntap a+p2:b\nrest 3\n", "program 1\nrest 2\nrepeat 3\ntap p2:start\nend\n"} {
			p := parse(src)
			back := load(export(p))
			Expect(back.Hash()).To(Equal(p.Hash()), src)
			Expect(back.Runs()).To(Equal(p.Runs()), src)
			Expect(parse(string(back.Format())).Hash()).To(Equal(p.Hash()), src)
		}
	})

	It("knows the row in force", func() {
		p := load("from,to,buttons\n2,3,a\n\n6,6,b + p2:a\n7,8,\n")
		var lines []int
		for r := program.Read(-1); r < 10; r++ {
			lines = append(lines, p.LineAt(r))
		}
		Expect(lines).To(Equal([]int{0, 2, 2, 2, 2, 4, 4, 4, 5, 5, 0}))
		Expect(p.At(6)).To(Equal(program.State{P1: bitB, P2: bitA}))
		Expect(string(p.Format())).To(Equal("program 1\nrest 2\nhold a for 2\nrest 2\nhold b+p2:a for 1\nrest 2\n"))
		Expect(p.Marks()).To(BeEmpty())
	})

	// RFC 4180, section 2: rule 1 (CR LF), rule 2 (the last line may lack it),
	// rule 5 (fields may be quoted), as in its examples "aaa","b""bb","ccc".
	It("reads quoted fields and either line end", func() {
		want := load("from,to,buttons\n0,4,right+b\n5,9,\n").Hash()
		for _, src := range []string{
			"from,to,buttons\r\n0,4,right+b\r\n5,9,\r\n",
			"from,to,buttons\r\n0,4,right+b\r\n5,9,",
			"\"from\",\"to\",\"buttons\"\r\n\"0\",\"4\",\"right+b\"\r\n5,\"9\",\"\"\r\n",
			"\ufefffrom,to,buttons\r\n0,4,b + right\r\n5,9,\r\n",
		} {
			Expect(load(src).Hash()).To(Equal(want), src)
		}
	})

	DescribeTable("says what is wrong and where",
		func(src string, want ...string) {
			p, err := program.ImportCSV("x.csv", []byte(src), ntsc, program.Limits{})
			Expect(p).To(BeNil())
			Expect(err).To(HaveOccurred())
			Expect(strings.Split(err.Error(), "\n")).To(Equal(want))
		},
		// The two quoting examples of RFC 4180, section 2, rules 6 and 7, as
		// rows: the messages show the decoded fields.
		Entry("RFC 4180 rule 6, a line break in a field", "from,to,buttons\r\n\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx\r\n",
			`x.csv:2:1: from "aaa" is not a read number`,
			`x.csv:2:7: to "b\nbb" is not a read number`,
			`x.csv:3:6: unknown button "ccc"; console ntsc-8bit has a b select start up down left right`,
			`x.csv:4:1: from "zzz" is not a read number`,
			`x.csv:4:5: to "yyy" is not a read number`,
			`x.csv:4:9: unknown button "xxx"; console ntsc-8bit has a b select start up down left right`),
		Entry("RFC 4180 rule 7, a quote in a field", "from,to,buttons\r\n\"aaa\",\"b\"\"bb\",\"ccc\"\r\n",
			`x.csv:2:1: from "aaa" is not a read number`,
			`x.csv:2:7: to "b\"bb" is not a read number`,
			`x.csv:2:16: unknown button "ccc"; console ntsc-8bit has a b select start up down left right`),
		Entry("RFC 4180 rule 4, spaces are part of a field", "from,to,buttons\n 0,1 ,a\n",
			`x.csv:2:1: from " 0" is not a read number`,
			`x.csv:2:4: to "1 " is not a read number`),
		Entry("RFC 4180 rule 4, the same number of fields", "from,to,buttons\n0,1\n2,3,a,b\n",
			`x.csv:2:1: row has 2 fields, not 3: from,to,buttons`,
			`x.csv:3:1: row has 4 fields, not 3: from,to,buttons`),
		Entry("RFC 4180 rule 5, a bare quote", "from,to,buttons\n0,1,é\"\n2,x,a\n",
			`x.csv:2:6: bare " in non-quoted-field`,
			`x.csv:3:3: to "x" is not a read number`),
		Entry("an open quote", "from,to,buttons\n0,1,\"a\n", `x.csv:2:7: extraneous or missing " in quoted-field`),
		Entry("an open quote over lines", "from,to,buttons\n0,1,\"a\n5,6,b\n", `x.csv:3:6: extraneous or missing " in quoted-field, in the row that starts at line 2`),
		Entry("more after a closed quote", "from,to,buttons\n0,1,\"é\"b\n", `x.csv:2:7: extraneous or missing " in quoted-field`),
		Entry("empty", "", `x.csv:1:1: empty file: the first line must be from,to,buttons`),
		Entry("header only", "from,to,buttons\n", `x.csv:1:1: the program has no reads`),
		Entry("no header", "0,4,a\n", `x.csv:1:1: the first line must be from,to,buttons`),
		Entry("another header", "from,to,button\n0,4,a\n", `x.csv:1:1: the first line must be from,to,buttons`),
		Entry("binary", "from,to,buttons\n0,\x004,a\n", `x.csv:2:3: binary data: byte 0x00`),
		Entry("not UTF-8", "from,to,buttons\n0,4,a\xff\n", `x.csv:2:6: not UTF-8 text: byte 0xff`),
		Entry("numbers", "from,to,buttons\n-1,+4,a\n1.5,,b\n",
			`x.csv:2:1: from "-1" is not a read number`, `x.csv:2:4: to "+4" is not a read number`,
			`x.csv:3:1: from "1.5" is not a read number`, `x.csv:3:5: to "" is not a read number`),
		Entry("to before from", "from,to,buttons\n5,4,a\n", `x.csv:2:3: to 4 is before from 5`),
		Entry("overlap", "from,to,buttons\n0,4,a\n4,5,b\n5,5,a\n",
			`x.csv:3:1: rows overlap: read 4 is given by line 2 already`,
			`x.csv:4:1: rows overlap: read 5 is given by line 3 already`),
		Entry("descending", "from,to,buttons\n10,14,a\n2,3,b\n15,15,\n", `x.csv:3:1: rows must ascend: from 2 comes after from 10 of line 2`),
		Entry("buttons", "from,to,buttons\n0,4,a+strat+a\n5,6,\"b+ lft\"\n7,8,#a+x\n9,9,\"p2:b\"\"+q\"\n",
			`x.csv:2:7: unknown button "strat"; did you mean "start"?`,
			`x.csv:2:13: button "a" twice`,
			`x.csv:3:9: unknown button "lft"; did you mean "left"?`,
			`x.csv:4:5: unknown button "#a"; did you mean "a"?`,
			`x.csv:4:8: unknown button "x"; console ntsc-8bit has a b select start up down left right`,
			`x.csv:5:5: unknown button "b\""; did you mean "b"?`,
			`x.csv:5:5: unknown button "q"; console ntsc-8bit has a b select start up down left right`),
		Entry("too long", "from,to,buttons\n0,4,a\n5,864000,\n864001,9223372036854775807,b\n",
			`x.csv:3:3: the program is at least 9223372036854775807 reads long; the limit is 864000`),
		Entry("numbers beyond 64 bits", "from,to,buttons\n0,99999999999999999999,a\n",
			`x.csv:2:3: the program is at least 9223372036854775807 reads long; the limit is 864000`),
	)

	It("takes the last read the limit allows", func() {
		_, err := program.ImportCSV("x.csv", []byte("from,to,buttons\n0,9,a\n"), ntsc, program.Limits{Reads: 10})
		Expect(err).NotTo(HaveOccurred())
		_, err = program.ImportCSV("x.csv", []byte("from,to,buttons\n0,10,a\n"), ntsc, program.Limits{Reads: 10})
		Expect(err).To(MatchError("x.csv:2:3: the program is 11 reads long; the limit is 10"))
	})

	It("passes on the writer's error", func() {
		full := errors.New("disk full")
		Expect(parse(street).ExportCSV(failing{full})).To(MatchError(full))
	})
})

type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }
