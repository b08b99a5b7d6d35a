package specs_test

import (
	"strings"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/specs"
)

// minimal is a spec with nothing to judge yet: lines 1 to 4. whole goes on with
// a checkpoint in lines 5 to 8.
const minimal = `version: 1
spec: a lamp
program: a.prog
console: ntsc-8bit
`

const whole = minimal + `checkpoints:
  - name: lit
    at: 62
    lamp: 3
`

var _ = Describe("Parse", func() {
	It("reads every key", func() {
		src := `version: 1
spec: first lamp
about: |
  two
  lines
program: play/first.prog
console: pal-8bit
start: power
repeats: 7
timeout: 1h30m
max_reads: 5000
tail: 12
labels: [street, slow.2]
anchor: {frame: 9, lamp: 1}
checkpoints:
  - {name: one, at: 62, lamp: 3}
  - name: two
    at: [jump-2, 400]
    every: true
    unseen: 3
    meter: gas
    equals: 5
  - {name: three, at: glow-worm+14, lamp: 4}
lockstep: {required: 6}
`
		s, err := specs.Parse("dir/first.spec.yaml", []byte(src), kinds)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.File).To(Equal("dir/first.spec.yaml"))
		Expect(s.Dir).To(Equal("dir"))
		Expect(s.Name).To(Equal("first lamp"))
		Expect(s.About).To(Equal("two\nlines\n"))
		Expect(s.ProgramFile).To(Equal("play/first.prog"))
		Expect(s.ConsoleName).To(Equal("pal-8bit"))
		Expect(s.Start).To(Equal(specs.StartPower))
		Expect(s.Repeats).To(Equal(7))
		Expect(s.Timeout).To(Equal(90 * time.Minute))
		Expect(s.MaxReads).To(BeEquivalentTo(5000))
		Expect(s.Tail).To(Equal(12))
		Expect(s.Labels).To(Equal([]string{"street", "slow.2"}))
		Expect(s.Lockstep.Required).To(Equal(6))
		Expect(string(s.Source)).To(Equal(src))
		Expect(s.Anchor.Frame).To(BeEquivalentTo(9))
		Expect(s.Anchor.Kind).To(Equal("lamp"))
		Expect(s.Anchor.Check.(*lampCheck).n).To(BeEquivalentTo(1))
		Expect(s.Checkpoints).To(HaveLen(3))
		Expect(s.Checkpoints[0].Name).To(Equal("one"))
		Expect(s.Checkpoints[0].Line).To(Equal(16))
		Expect(s.Checkpoints[0].At).To(Equal(specs.When{From: specs.Moment{Offset: 62}, To: specs.Moment{Offset: 62}}))
		Expect(s.Checkpoints[1].At).To(Equal(specs.When{From: specs.Moment{Mark: "jump", Offset: -2}, To: specs.Moment{Offset: 400}, Range: true}))
		Expect(s.Checkpoints[1].Every).To(BeTrue())
		Expect(s.Checkpoints[1].Unseen).To(Equal(3))
		Expect(s.Checkpoints[1].Check.(*meterCheck).equals).To(BeEquivalentTo(5))
		Expect(s.Checkpoints[2].At.From).To(Equal(specs.Moment{Mark: "glow-worm", Offset: 14}))
		Expect(s.Files()).To(Equal([]string{"lamp.png", "play/first.prog"}))
	})

	It("has the documented defaults", func() {
		s, err := specs.Parse("a", []byte(whole), kinds)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Start).To(Equal("reset"))
		Expect(s.Repeats).To(Equal(1))
		Expect(s.Lockstep.Required).To(Equal(1))
		Expect(s.Timeout).To(BeZero())
		Expect(s.MaxReads).To(BeEquivalentTo(864000))
		Expect(s.Tail).To(Equal(-1))
		Expect(s.Labels).To(BeEmpty())
		Expect(s.Anchor).To(BeNil())
		Expect(s.Checkpoints[0].Every).To(BeFalse())
		Expect(s.Dir).To(Equal("."))
	})

	It("hashes the file's bytes", func() {
		// The value is the standard's own example: FIPS 180-4, "abc".
		Expect((&specs.Spec{Source: []byte("abc")}).Hash()).To(Equal("ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"))
	})

	It("takes lockstep of all repeats and of some", func() {
		for _, required := range []string{"2", "3", "4"} {
			_, err := specs.Parse("a", []byte(whole+"repeats: 4\nlockstep: {required: "+required+"}"), kinds)
			Expect(err).NotTo(HaveOccurred())
		}
	})

	It("takes a spec of lockstep alone", func() {
		s, err := specs.Parse("a", []byte(minimal+"repeats: 2\n"), kinds)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Lockstep.Required).To(Equal(2))
	})

	It("reads JSON, CRLF and a byte order mark alike", func() {
		for _, src := range []string{
			`{"version": 1, "spec": "a lamp", "program": "a.prog", "console": "ntsc-8bit", "repeats": 2}`,
			strings.ReplaceAll(minimal+"repeats: 2\n", "\n", "\r\n"),
			"\ufeff" + minimal + "repeats: 2\n",
		} {
			s, err := specs.Parse("a", []byte(src), kinds)
			Expect(err).NotTo(HaveOccurred())
			Expect(s.Name).To(Equal("a lamp"))
			Expect(s.Repeats).To(Equal(2))
		}
	})

	It("changes the repeats and keeps what must stay in lockstep", func() {
		s, err := specs.Parse("a", []byte(whole+"repeats: 5\nlockstep: {required: 4}\n"), kinds)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.SetRepeats(9)).To(Succeed())
		Expect(s.Repeats).To(Equal(9))
		Expect(s.Lockstep.Required).To(Equal(4))
		Expect(s.SetRepeats(3)).To(MatchError("3 repeats are fewer than the 4 that a:10:11 requires in lockstep"))
		Expect(s.SetRepeats(0)).To(MatchError("0 repeats is not from 1 to 10000"))
		Expect(s.SetRepeats(10001)).NotTo(Succeed())
		Expect(s.Repeats).To(Equal(9))
		s, err = specs.Parse("a", []byte(whole), kinds)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.SetRepeats(3)).To(Succeed())
		Expect(s.Lockstep.Required).To(Equal(3))
	})

	DescribeTable("says what is wrong with a key and where",
		func(extra string, want ...string) {
			_, err := specs.Parse("a.spec.yaml", []byte(whole+extra), kinds)
			Expect(problemsOf(err)).To(Equal(want))
		},
		Entry(nil, "lables: []", "a.spec.yaml:9:1: lables: unknown key; did you mean labels?"),
		Entry(nil, "colour: red", "a.spec.yaml:9:1: colour: unknown key; known are about, anchor, checkpoints, console, labels, lockstep, max_reads, program, repeats, spec, start, tail, timeout, version"),
		Entry(nil, "chckpoint: []", "a.spec.yaml:9:1: chckpoint: unknown key; did you mean checkpoints?"),
		Entry(nil, "chckpoin: []", "a.spec.yaml:9:1: chckpoin: unknown key; known are about, anchor, checkpoints, console, labels, lockstep, max_reads, program, repeats, spec, start, tail, timeout, version"),
		Entry(nil, "about: one\nabout: two", "a.spec.yaml:10:1: about: key given twice; first on line 9"),
		Entry(nil, "\"a\\nb\": 1", `a.spec.yaml:9:1: "a\nb": unknown key; known are about, anchor, checkpoints, console, labels, lockstep, max_reads, program, repeats, spec, start, tail, timeout, version`),
		Entry(nil, "[1]: 2", "a.spec.yaml:9:1: a key is plain text"),
		Entry(nil, "about:", "a.spec.yaml:9:7: about: want a text of visible characters, have nothing"),
		Entry(nil, "about: 5", "a.spec.yaml:9:8: about: want a text of visible characters, have 5; put it in quotes if it is meant as text"),
		Entry(nil, "about: [a]", "a.spec.yaml:9:8: about: want a text of visible characters, have a list"),
		Entry(nil, `about: "a\u202eb"`, `a.spec.yaml:9:8: about: want a text of visible characters, have "a\u202eb"`),
		Entry(nil, "about: "+strings.Repeat("x", 2001), "a.spec.yaml:9:8: about: want a text of visible characters of 0 to 2000 characters, have 2001"),
		Entry(nil, "start: Reset", `a.spec.yaml:9:8: start: want reset or power, have "Reset"; did you mean reset?`),
		Entry(nil, "start: warm", `a.spec.yaml:9:8: start: want reset or power, have the text "warm"`),
		Entry(nil, "start: {}", `a.spec.yaml:9:8: start: want reset or power, have a mapping`),
		Entry(nil, "repeats: 0", "a.spec.yaml:9:10: repeats: 0 is below 1"),
		Entry(nil, "repeats: 10001", "a.spec.yaml:9:10: repeats: 10001 is above 10000"),
		Entry(nil, "repeats: 99999999999999999999", "a.spec.yaml:9:10: repeats: 99999999999999999999 is above 10000"),
		Entry(nil, "repeats: -99999999999999999999", "a.spec.yaml:9:10: repeats: -99999999999999999999 is below 1"),
		Entry(nil, "repeats: 0x10", "a.spec.yaml:9:10: repeats: want a whole number in plain decimal digits, have 0x10"),
		Entry(nil, "repeats: 1_0", `a.spec.yaml:9:10: repeats: want a whole number in plain decimal digits, have 1_0`),
		Entry(nil, "repeats: 2.5", "a.spec.yaml:9:10: repeats: want a whole number in plain decimal digits, have 2.5"),
		Entry(nil, "repeats: .inf", "a.spec.yaml:9:10: repeats: want a whole number in plain decimal digits, have .inf"),
		Entry(nil, `repeats: "5"`, `a.spec.yaml:9:10: repeats: want a whole number, have the text "5"`),
		Entry(nil, "repeats: true", "a.spec.yaml:9:10: repeats: want a whole number, have true"),
		Entry(nil, "timeout: 5", "a.spec.yaml:9:10: timeout: want a length of time such as 90s or 2m, have 5"),
		Entry(nil, "timeout: -5s", `a.spec.yaml:9:10: timeout: want a length of time such as 90s or 2m, have the text "-5s"`),
		Entry(nil, "timeout: 999ms", "a.spec.yaml:9:10: timeout: 999ms is below 1s"),
		Entry(nil, "timeout: 24h1s", "a.spec.yaml:9:10: timeout: 24h1s is above 24h0m0s"),
		Entry(nil, "timeout: 99999999999999h", "a.spec.yaml:9:10: timeout: 99999999999999h is above 24h0m0s"),
		Entry(nil, "max_reads: 864001", "a.spec.yaml:9:12: max_reads: 864001 is above 864000"),
		Entry(nil, "tail: -1", "a.spec.yaml:9:7: tail: -1 is below 0"),
		Entry(nil, "tail: 1728001", "a.spec.yaml:9:7: tail: 1728001 is above 1728000"),
		Entry(nil, "labels: street", `a.spec.yaml:9:9: labels: want a list of labels, have the text "street"`),
		Entry(nil, "labels: [a, b, a]", "a.spec.yaml:9:9: labels: a is given twice"),
		Entry(nil, "labels: ['a b', 7]",
			"a.spec.yaml:9:10: labels[0]: want a label of letters, digits, `_`, `.` and `-`, have \"a b\"",
			"a.spec.yaml:9:17: labels[1]: want a label of letters, digits, `_`, `.` and `-`, have 7; put it in quotes if it is meant as text"),
		Entry(nil, "labels: ["+strings.Repeat("a,", 32)+"b]", "a.spec.yaml:9:9: labels: want a list of labels of 0 to 32 entries, have 33"),
		Entry(nil, "anchor: 62", "a.spec.yaml:9:9: anchor: want a mapping, have 62"),
		Entry(nil, "anchor: {lamp: 1}", "a.spec.yaml:9:9: anchor.frame: missing"),
		Entry(nil, "anchor: {frame: jump, lamp: 1}", `a.spec.yaml:9:17: anchor.frame: want a whole number, have the text "jump"`),
		Entry(nil, "anchor: {frame: 1728001, lamp: 1}", "a.spec.yaml:9:17: anchor.frame: 1728001 is above 1728000"),
		Entry(nil, "anchor: {frame: 1}", "a.spec.yaml:9:9: anchor: no check; want one of lamp, meter"),
		Entry(nil, "repeats: 1\nlockstep: {required: 2}", "a.spec.yaml:10:11: lockstep: needs 2 repeats or more, have 1"),
		Entry(nil, "repeats: 3\nlockstep: {required: 4}", "a.spec.yaml:10:11: lockstep.required: 4 are more than the 3 repeats"),
		Entry(nil, "repeats: 3\nlockstep: {required: 1}", "a.spec.yaml:10:22: lockstep.required: 1 is below 2"),
		Entry(nil, "repeats: 3\nlockstep: {}", "a.spec.yaml:10:11: lockstep.required: missing"),
	)

	DescribeTable("says what is wrong with a checkpoint and where",
		func(checkpoint string, want ...string) {
			_, err := specs.Parse("a", []byte(minimal+"checkpoints:\n  - "+checkpoint+"\n"), kinds)
			Expect(problemsOf(err)).To(Equal(want))
		},
		Entry(nil, "lit", `a:6:5: checkpoints[0]: want a mapping, have the text "lit"`),
		Entry(nil, "{at: 1, lamp: 1}", "a:6:5: checkpoints[0].name: missing"),
		Entry(nil, "{name: n, lamp: 1}", "a:6:5: checkpoints[0].at: missing"),
		Entry(nil, "{name: n, at: 1}", "a:6:5: checkpoints[0]: no check; want one of lamp, meter"),
		Entry(nil, "{name: n, at: 1, lamp: 1, meter: m}", "a:6:38: checkpoints[0].meter: a second kind of check beside lamp; one is allowed"),
		Entry(nil, "{name: n, at: 1, lamp: 10}", "a:6:28: checkpoints[0].lamp: 10 is above 9"),
		Entry(nil, "{name: n, at: 1, lamp: 1, equals: 1}", "a:6:39: checkpoints[0].equals: goes with meter, not with lamp"),
		Entry(nil, "{name: n, at: 1, meter: m, equals: 11}", "a:6:40: checkpoints[0].equals: 11 is above 9"),
		Entry(nil, "{name: n, at: 1, lmap: 1}",
			"a:6:5: checkpoints[0]: no check; want one of lamp, meter",
			"a:6:22: checkpoints[0].lmap: unknown key; did you mean lamp?"),
		Entry(nil, "{name: ' n', at: 1, lamp: 1}", `a:6:12: checkpoints[0].name: want a name of visible characters and single spaces, have " n"`),
		Entry(nil, "{name: '', at: 1, lamp: 1}", `a:6:12: checkpoints[0].name: want a name of visible characters and single spaces of 1 to 80 characters, have 0`),
		Entry(nil, "{name: "+strings.Repeat("ä", 81)+", at: 1, lamp: 1}", `a:6:12: checkpoints[0].name: want a name of visible characters and single spaces of 1 to 80 characters, have 81`),
		Entry(nil, "{name: n, at: -1, lamp: 1}", "a:6:19: checkpoints[0].at: -1 is below 0"),
		Entry(nil, "{name: n, at: 1728001, lamp: 1}", "a:6:19: checkpoints[0].at: 1728001 is above 1728000"),
		Entry(nil, "{name: n, at: 1.5, lamp: 1}", "a:6:19: checkpoints[0].at: want a whole number in plain decimal digits, have 1.5"),
		Entry(nil, "{name: n, at: '62', lamp: 1}", `a:6:19: checkpoints[0].at: "62" is a frame in quotes; write the number without quotes`),
		Entry(nil, "{name: n, at: jump + 1, lamp: 1}", `a:6:19: checkpoints[0].at: "jump + 1" is not a moment; want a frame such as 62 or a mark such as jump, jump+14 or jump-2`),
		Entry(nil, "{name: n, at: jump+864001, lamp: 1}", `a:6:19: checkpoints[0].at: 864001 reads from a mark is more than 864000`),
		Entry(nil, "{name: n, at: {}, lamp: 1}", "a:6:19: checkpoints[0].at: want a frame or a mark, have a mapping"),
		Entry(nil, "{name: n, at: true, lamp: 1}", "a:6:19: checkpoints[0].at: want a frame or a mark, have true"),
		Entry(nil, "{name: n, at: [1], lamp: 1}", "a:6:19: checkpoints[0].at: want a range of two moments, [from, to], have a list of 1"),
		Entry(nil, "{name: n, at: [1, 2, 3], lamp: 1}", "a:6:19: checkpoints[0].at: want a range of two moments, [from, to], have a list of 3"),
		Entry(nil, "{name: n, at: [[1, 2], 3], lamp: 1}", "a:6:20: checkpoints[0].at[0]: want a frame or a mark, have a list"),
		Entry(nil, "{name: n, at: [2, 1], lamp: 1}", "a:6:19: checkpoints[0].at: [2, 1] ends before it begins"),
		Entry(nil, "{name: n, at: [jump+2, jump+1], lamp: 1}", "a:6:19: checkpoints[0].at: [jump+2, jump+1] ends before it begins"),
		Entry(nil, "{name: n, at: 1, every: true, lamp: 1}", "a:6:29: checkpoints[0].every: only with a range; write `at: [from, to]`"),
		Entry(nil, "{name: n, at: [1, 2], every: 1, lamp: 1}", "a:6:34: checkpoints[0].every: want true or false, have 1"),
		Entry(nil, "{name: n, at: [1, 2], unseen: 1, lamp: 1}", "a:6:35: checkpoints[0].unseen: only with every: true"),
		Entry(nil, "{name: n, at: 1, lamp: 1}\n  - {name: n, at: 2, lamp: 1}", `a:7:12: checkpoints[1].name: a second checkpoint named "n"; the first is on line 6`),
	)

	DescribeTable("says which keys are missing",
		func(src string, want ...string) {
			_, err := specs.Parse("a", []byte(src), kinds)
			Expect(problemsOf(err)).To(Equal(want))
		},
		Entry(nil, "repeats: 2", "a:1:1: version: missing", "a:1:1: spec: missing", "a:1:1: program: missing", "a:1:1: console: missing"),
		Entry(nil, minimal, "a:1:1: nothing to judge: give checkpoints, or repeats of 2 or more"),
		Entry(nil, minimal+"checkpoints: []", "a:5:14: checkpoints: want a list of checkpoints of 1 to 1000 entries, have 0"),
		Entry(nil, strings.Replace(whole, "version: 1", "version: 2", 1), "a:1:10: version: version 2 is not known; this program reads version 1"),
	)

	DescribeTable("keeps files inside the spec's folder",
		func(name, want string) {
			_, err := specs.Parse("a", []byte(strings.Replace(whole, "a.prog", name, 1)), kinds)
			if want == "" {
				Expect(err).NotTo(HaveOccurred())
				return
			}
			Expect(problemsOf(err)).To(Equal([]string{"a:3:10: program: " + want}))
		},
		Entry(nil, "play/my first.prog", ""),
		Entry(nil, "/etc/a.prog", `"/etc/a.prog" is an absolute path; name a file inside the spec's folder`),
		Entry(nil, `C:\a.prog`, `"C:\\a.prog" is an absolute path; name a file inside the spec's folder`),
		Entry(nil, "../a.prog", "\"../a.prog\" can leave the spec's folder; name a file inside it without `..`"),
		Entry(nil, "b/../../a.prog", "\"b/../../a.prog\" can leave the spec's folder; name a file inside it without `..`"),
		Entry(nil, `..\a.prog`, "\"..\\\\a.prog\" can leave the spec's folder; name a file inside it without `..`"),
		Entry(nil, `b\a.prog`, `want a button program inside the spec's folder, such as first-lamp.prog, have "b\\a.prog"`),
		Entry(nil, "b//a.prog", `want a button program inside the spec's folder, such as first-lamp.prog, have "b//a.prog"`),
		Entry(nil, "./a.prog", `want a button program inside the spec's folder, such as first-lamp.prog, have "./a.prog"`),
		Entry(nil, ".hidden", `want a button program inside the spec's folder, such as first-lamp.prog, have ".hidden"`),
		Entry(nil, strings.Repeat("p", 201), `want a button program inside the spec's folder, such as first-lamp.prog of 1 to 200 characters, have 201`),
	)

	DescribeTable("refuses hostile YAML",
		func(src string, want ...string) {
			_, err := specs.Parse("a", []byte(src), kinds)
			Expect(problemsOf(err)).To(Equal(want))
		},
		Entry("empty", "", "a:1:1: the file is empty"),
		Entry("comments only", "# nothing\n\n", "a:1:1: the file is empty"),
		Entry("a scalar", "hello", `a:1:1: want a mapping with the keys of a spec, have the text "hello"`),
		Entry("a list", "- 1", `a:1:1: want a mapping with the keys of a spec, have a list`),
		Entry("two documents", whole+"---\nb: 1\n", "a:9:1: a second document; a file holds one"),
		Entry("anchor and alias", strings.Replace(whole, "a lamp", "&x a lamp", 1)+"about: *x\n",
			"a:2:7: anchors are not allowed; write the value out where it is needed",
			"a:9:8: aliases are not allowed; write the value out"),
		Entry("merge key", whole+"<<: {about: x}\n", "a:9:1: merge keys are not allowed; write the keys out"),
		Entry("tag", whole+"about: !!str 5\n", "a:9:8: tags are not allowed"),
		Entry("own tag", whole+"about: !lamp {a: b}\n", "a:9:8: tags are not allowed"),
		Entry("an alias of itself", "&a [*a]",
			"a:1:1: anchors are not allowed; write the value out where it is needed",
			"a:1:1: want a mapping with the keys of a spec, have a list",
			"a:1:5: aliases are not allowed; write the value out"),
		Entry("not UTF-8", "version: 1\nabout: \xff", "a:2:8: byte 0xff is not UTF-8 text"),
		Entry("UTF-16", "\xff\xfev\x00", "a:1:1: byte 0xff is not UTF-8 text"),
		Entry("a NUL byte", "versi\x00on: 1", "a:1:6: control character 0x00; only plain text is allowed"),
		Entry("what cannot be seen", strings.Replace(minimal, "a lamp", `"a\u0301\u3164\ufe0f\U000e0100\u202e"`, 1)+"repeats: 2\n",
			`a:2:7: spec: want a name of visible characters and single spaces, have "a\u0301\u3164\ufe0f\U000e0100\u202e"`),
		Entry("an escape sequence", "spec: \x1b[31m", "a:1:7: control character 0x1b; only plain text is allowed"),
		Entry("broken YAML", "version: 1\nspec: [a\nprogram: b\n", "a:2:1: not yaml: did not find expected ',' or ']'"),
		Entry("an indent that fits nothing", "version: 1\nspec: a\n program: b\n", "a:3:1: not yaml: mapping values are not allowed in this context"),
		Entry("a list among keys", "version: 1\nlabels:\n  - a\n  b: c\n", "a:3:1: not yaml: did not find expected '-' indicator"),
		Entry("an open quote", "version: 1\nspec: 'a\n", "a:2:1: not yaml: found unexpected end of stream"),
		Entry("a tab as indent", "checkpoints:\n\t- a\n", "a:2:1: not yaml: found character that cannot start any token"),
	)

	It("limits the size, tried at the limit and one above", func() {
		pad := func(n int) []byte { return []byte(whole + "#" + strings.Repeat("x", n-len(whole)-1)) }
		_, err := specs.Parse("a", pad(specs.MaxBytes), kinds)
		Expect(err).NotTo(HaveOccurred())
		_, err = specs.Parse("a", pad(specs.MaxBytes+1), kinds)
		Expect(problemsOf(err)).To(Equal([]string{"a:1:1: 1048577 bytes; a spec has at most 1048576"}))
	})

	It("limits the depth, tried at the limit and one above", func() {
		nest := func(n int) []byte {
			// The mapping of the file is the first level.
			return []byte(whole + "about: " + strings.Repeat("[", n-1) + strings.Repeat("]", n-1))
		}
		_, err := specs.Parse("a", nest(specs.MaxDepth), kinds)
		Expect(problemsOf(err)).To(Equal([]string{"a:9:8: about: want a text of visible characters, have a list"}))
		_, err = specs.Parse("a", nest(specs.MaxDepth+1), kinds)
		Expect(problemsOf(err)).To(ContainElement("a:9:17: nested deeper than 10"))
		_, err = specs.Parse("a", nest(400_000), kinds)
		Expect(problemsOf(err)).To(HaveLen(1))
	})

	It("lists a hundred problems and counts the rest", func() {
		src := whole
		for i := range 150 {
			src += "x" + strings.Repeat("y", i) + ": 1\n"
		}
		_, err := specs.Parse("a", []byte(src), kinds)
		lines := problemsOf(err)
		Expect(lines).To(HaveLen(101))
		Expect(lines[100]).To(Equal("a:108:1: 50 more problems are not listed"))
	})

	It("cuts long values in messages", func() {
		_, err := specs.Parse("a", []byte(whole+"start: "+strings.Repeat("x", 500)), kinds)
		Expect(err.Error()).To(Equal(`a:9:8: start: want reset or power, have the text "` + strings.Repeat("x", 40) + `..."`))
	})
})
