package console_test

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/specs/console"
)

const small = `version: 1
console: small-8bit
about: six buttons on one port
raster: [160, 144]
rate: 120/2
derivation: an invented machine
buttons: [a, b, up, down, left, right]
ports: 1
reads_per_frame: 2
burst_gap: 1500us
latch: low
`

const least = `version: 1
console: least
raster: [8, 4096]
rate: 60
buttons: [fire]
`

// replace gives the small profile with one line exchanged.
func replace(key, line string) string {
	GinkgoHelper()
	lines := strings.Split(small, "\n")
	for i, l := range lines {
		if strings.HasPrefix(l, key+":") {
			lines[i] = line
			return strings.Join(lines, "\n")
		}
	}
	Fail("no key " + key)
	return ""
}

var _ = Describe("a profile file", func() {
	It("is read whole", func() {
		p, err := console.Parse("small.yaml", []byte(small))
		Expect(err).NotTo(HaveOccurred())
		Expect(p).To(Equal(console.Profile{
			Name: "small-8bit", About: "six buttons on one port",
			Width: 160, Height: 144,
			Rate: console.Rate{Num: 60, Den: 1}, Derivation: "an invented machine",
			Buttons: []string{"a", "b", "up", "down", "left", "right"},
			Ports:   1, ReadsPerFrame: 2, BurstGap: 1500 * time.Microsecond, LatchActive: "low",
		}))
	})

	It("has the documented defaults", func() {
		p, err := console.Parse("least.yaml", []byte(least))
		Expect(err).NotTo(HaveOccurred())
		Expect(p).To(Equal(console.Profile{
			Name: "least", Width: 8, Height: 4096, Rate: console.Rate{Num: 60, Den: 1}, Buttons: []string{"fire"},
			Ports: 2, ReadsPerFrame: 1, BurstGap: 2 * time.Millisecond, LatchActive: "high",
		}))
	})

	It("is written and read back the same", func() {
		for _, src := range []string{small, least, replace("about", `about: "quotes \" and\nlines, # and: \u00e9, \u0007; `+strings.Repeat("long words ", 40)+`"`)} {
			p, err := console.Parse("x", []byte(src))
			Expect(err).NotTo(HaveOccurred())
			again, err := console.Parse("x", p.Format())
			Expect(err).NotTo(HaveOccurred())
			Expect(again).To(Equal(p))
		}
		for _, name := range console.Names() {
			p := builtin(name)
			again, err := console.Parse("x", p.Format())
			Expect(err).NotTo(HaveOccurred())
			Expect(again).To(Equal(p))
		}
	})

	DescribeTable("says what is wrong and where",
		func(src func() string, want ...string) {
			_, err := console.Parse("c.yaml", []byte(src()))
			Expect(err).To(HaveOccurred())
			Expect(strings.Split(err.Error(), "\n")).To(Equal(want))
			var list console.ErrorList
			Expect(errors.As(err, &list)).To(BeTrue())
			Expect(list).To(HaveLen(len(want)))
		},
		Entry("nothing", func() string { return "" }, `c.yaml:1:1: empty file`),
		Entry("a comment only", func() string { return "# nothing\n" }, `c.yaml:1:1: empty file`),
		Entry("not a mapping", func() string { return "- a\n" }, `c.yaml:1:1: must be a mapping of keys, not a list`),
		Entry("text", func() string { return "hello\n" }, `c.yaml:1:1: must be a mapping of keys, not text "hello"`),
		Entry("not yaml", func() string { return "version: 1\nraster: [1, 2\n" },
			`c.yaml:1:1: not yaml: did not find expected ',' or ']'`),
		Entry("not yaml, further down", func() string { return replace("about", `about: a: b`) },
			`c.yaml:3:1: not yaml: mapping values are not allowed in this context`),
		Entry("not text", func() string { return "\xff\xfe\xfd" },
			`c.yaml:1:1: not yaml: incomplete UTF-16 character`),
		Entry("a second document", func() string { return small + "---\nversion: 1\n" }, `c.yaml:12:1: a second document`),
		Entry("all at once", func() string {
			return "version: 2\nconsole: 7\nraster: [256]\nrate: 60.0988\nbutons: [a]\nports: two\nreads_per_frame: 0\nburst_gap: 2\nlatch: up\n"
		},
			`c.yaml:1:1: buttons: missing`,
			`c.yaml:1:10: version: 2 is not known; this reader knows version 1`,
			`c.yaml:2:10: console: must be text, not the number "7"`,
			`c.yaml:3:9: raster: must be [width, height]`,
			`c.yaml:4:7: rate: "60.0988" is not a whole number or a fraction such as 39375000/655171`,
			`c.yaml:5:1: butons: unknown key; did you mean "buttons"?`,
			`c.yaml:6:8: ports: must be a whole number, not text "two"`,
			`c.yaml:7:18: reads_per_frame: 0 is not between 1 and 16`,
			`c.yaml:8:12: burst_gap: "2" has no unit; write a duration such as 2ms`,
			`c.yaml:9:8: latch: "up" is not high or low`),
		Entry("missing keys", func() string { return "about: é\n" },
			`c.yaml:1:1: version: missing`, `c.yaml:1:1: console: missing`, `c.yaml:1:1: raster: missing`,
			`c.yaml:1:1: rate: missing`, `c.yaml:1:1: buttons: missing`),
		Entry("columns after non-ASCII text", func() string { return replace("buttons", "buttons: [a, é, B]") },
			`c.yaml:7:14: buttons: "é" is not a button name: a lower-case letter, then at most 15 lower-case letters, digits, "_" or "-"`,
			`c.yaml:7:17: buttons: "B" is not a button name: a lower-case letter, then at most 15 lower-case letters, digits, "_" or "-"`),
		Entry("an unknown key", func() string { return small + "colour: red\n" },
			`c.yaml:12:1: colour: unknown key; known are version, console, about, raster, rate, derivation, buttons, ports, reads_per_frame, burst_gap, latch`),
		Entry("a key twice", func() string { return small + "ports: 2\n" }, `c.yaml:12:1: ports: given twice; first at line 8`),
		Entry("a merge key", func() string { return small + "<<: {ports: 2}\n" },
			`c.yaml:12:1: "<<": unknown key; known are version, console, about, raster, rate, derivation, buttons, ports, reads_per_frame, burst_gap, latch`),
		Entry("an alias", func() string { return replace("ports", "ports: &n 1") + "x: *n\n" },
			`c.yaml:12:1: x: unknown key; known are version, console, about, raster, rate, derivation, buttons, ports, reads_per_frame, burst_gap, latch`),
		Entry("an alias of a known key", func() string {
			return strings.Replace(replace("ports", "ports: &n 1"), "reads_per_frame: 2", "reads_per_frame: *n", 1)
		}, `c.yaml:9:18: reads_per_frame: must be a whole number, not an alias`),
		Entry("a list as key", func() string { return small + "? [a]\n: 1\n" }, `c.yaml:12:3: a key must be a word, not a list`),
		Entry("wrong types", func() string { return replace("raster", "raster: {w: 1}") },
			`c.yaml:4:9: raster: must be a list, not a mapping`),
		Entry("wrong types in lists", func() string { return replace("raster", "raster: [1.5, yes]") },
			`c.yaml:4:10: raster: must be a whole number, not the number "1.5"`,
			`c.yaml:4:15: raster: must be a whole number, not text "yes"`),
		Entry("a button that yaml takes for something else", func() string { return replace("buttons", "buttons: [a, true, 1, null]") },
			`c.yaml:7:14: buttons: must be text, not yes or no ("true")`,
			`c.yaml:7:20: buttons: must be text, not the number "1"`,
			`c.yaml:7:23: buttons: must be text, not nothing`),
		Entry("null", func() string { return replace("rate", "rate:") },
			`c.yaml:5:6: rate: must be a whole number or a fraction such as 39375000/655171, not nothing`),
		Entry("hexadecimal", func() string { return replace("ports", "ports: 0x1") },
			`c.yaml:8:8: ports: "0x1" must be written in decimal digits`),
		Entry("beyond an int", func() string { return replace("ports", "ports: 99999999999") },
			`c.yaml:8:8: ports: "99999999999" is out of range`),
		Entry("raster bounds", func() string { return replace("raster", "raster: [7, 4097]") },
			`c.yaml:4:10: raster: 7 is not between 8 and 4096 pixels`,
			`c.yaml:4:13: raster: 4097 is not between 8 and 4096 pixels`),
		Entry("rate over zero", func() string { return replace("rate", "rate: 60/0") }, `c.yaml:5:7: rate: the lower number is 0`),
		Entry("rate zero", func() string { return replace("rate", "rate: 0/5") }, `c.yaml:5:7: rate: must be above 0`),
		Entry("rate below 1", func() string { return replace("rate", "rate: 60/61") }, `c.yaml:5:7: rate: 60/61 is not between 1 and 1000 Hz`),
		Entry("rate above 1000", func() string { return replace("rate", "rate: 1000001/1000") }, `c.yaml:5:7: rate: 1000001/1000 is not between 1 and 1000 Hz`),
		Entry("rate parts", func() string { return replace("rate", "rate: 60000000000001/1000000000000") },
			`c.yaml:5:7: rate: both numbers must be at most 10^12`),
		Entry("rate parts beyond 64 bits", func() string { return replace("rate", "rate: 99999999999999999999/1") },
			`c.yaml:5:7: rate: both numbers must be at most 10^12`),
		Entry("rate with a sign", func() string { return replace("rate", "rate: -60") },
			`c.yaml:5:7: rate: "-60" is not a whole number or a fraction such as 39375000/655171`),
		Entry("no buttons", func() string { return replace("buttons", "buttons: []") }, `c.yaml:7:10: buttons: 0 buttons, must be 1 to 16`),
		Entry("17 buttons", func() string { return replace("buttons", "buttons: [a,b,c,d,e,f,g,h,i,j,k,l,m,n,o,p,q]") },
			`c.yaml:7:10: buttons: 17 buttons, must be 1 to 16`),
		Entry("a button twice", func() string { return replace("buttons", "buttons: [a, b, a]") }, `c.yaml:7:17: buttons: button "a" twice`),
		Entry("a reserved button", func() string { return replace("buttons", "buttons: [for]") },
			`c.yaml:7:11: buttons: "for" is a word of the program notation`),
		Entry("ports", func() string { return replace("ports", "ports: 3") }, `c.yaml:8:8: ports: 3 is not 1 or 2`),
		Entry("burst gap below 0", func() string { return replace("burst_gap", "burst_gap: -1ms") }, `c.yaml:10:12: burst_gap: -1ms is below 0`),
		Entry("burst gap in nanoseconds", func() string { return replace("burst_gap", "burst_gap: 1500ns") },
			`c.yaml:10:12: burst_gap: 1.5µs is not whole microseconds`),
		Entry("burst gap as long as the reads are apart", func() string { return replace("burst_gap", "burst_gap: 8334us") },
			`c.yaml:10:12: burst_gap: 8.334ms is not shorter than the 8.333ms from one read to the next`),
		Entry("burst gap no duration", func() string { return replace("burst_gap", "burst_gap: soon") },
			`c.yaml:10:12: burst_gap: "soon" is not a duration such as 2ms`),
		Entry("default burst gap at a high rate", func() string { return least[:strings.Index(least, "rate")] + "rate: 1000\nbuttons: [a]\n" },
			`c.yaml:4:7: burst_gap: 2ms is not shorter than the 1ms from one read to the next`),
		Entry("a name", func() string { return replace("console", "console: My Console") },
			`c.yaml:2:10: console: "My Console" is not a name of lower-case letters, digits, ".", "_" and "-"`),
		Entry("a built-in name", func() string { return replace("console", "console: ntsc-8bit") },
			`c.yaml:2:10: console: "ntsc-8bit" is a built-in profile and differs from this one; choose another name`),
		Entry("long rubbish", func() string { return replace("latch", "latch: "+strings.Repeat("é", 100)) },
			`c.yaml:11:8: latch: "`+strings.Repeat("é", 40)+`…" is not high or low`),
	)

	It("takes both ends of the ranges", func() {
		for _, src := range []string{
			replace("burst_gap", "burst_gap: 8333us"),
			replace("burst_gap", "burst_gap: 0s"),
			replace("buttons", "buttons: [a,b,c,d,e,f,g,h,i,j,k,l,m,n,o,p]"),
			replace("reads_per_frame", "reads_per_frame: 1"),
			replace("rate", "rate: 1"),
			replace("rate", "rate: 1000000000000/1000000000000"),
			strings.Replace(replace("rate", "rate: 1000"), "1500us", "499us", 1),
		} {
			_, err := console.Parse("c.yaml", []byte(src))
			Expect(err).NotTo(HaveOccurred(), src)
		}
	})
})

var _ = Describe("Validate", func() {
	It("says what is wrong with a value", func() {
		Expect(console.Profile{Name: "x", Width: 256, Height: 1, Rate: console.Rate{Num: 60, Den: 1},
			Buttons: []string{"a"}, Ports: 1, ReadsPerFrame: 1, LatchActive: "high"}.Validate()).
			To(MatchError(`console "x": raster: 1 is not between 8 and 4096 pixels`))
	})
	It("survives the zero value", func() {
		var list console.ErrorList
		Expect(errors.As(console.Profile{}.Validate(), &list)).To(BeTrue())
		keys := map[string]bool{}
		for _, p := range list {
			keys[p.Key] = true
		}
		Expect(keys).To(HaveLen(7))
	})
})

var _ = Describe("Load", func() {
	var dir string
	BeforeEach(func() {
		dir = GinkgoT().TempDir()
		Expect(os.WriteFile(filepath.Join(dir, "small.yaml"), []byte(small), 0o600)).To(Succeed())
	})
	It("knows the built-in names", func() {
		p, err := console.Load("pal-8bit", dir)
		Expect(err).NotTo(HaveOccurred())
		Expect(p).To(Equal(builtin("pal-8bit")))
	})
	It("reads files relative to the folder, or absolute", func() {
		p, err := console.Load("small.yaml", dir)
		Expect(err).NotTo(HaveOccurred())
		Expect(p.Name).To(Equal("small-8bit"))
		_, err = console.Load(filepath.Join(dir, "small.yaml"), "/nowhere")
		Expect(err).NotTo(HaveOccurred())
	})
	It("says when there is neither", func() {
		_, err := console.Load("other.yaml", dir)
		Expect(err).To(MatchError(console.ErrUnknown))
		Expect(err).To(MatchError(`no such console: "other.yaml" is not a built-in profile (ntsc-8bit, pal-8bit), and there is no file ` + filepath.Join(dir, "other.yaml")))
	})
	It("gives the places in a bad file", func() {
		path := filepath.Join(dir, "bad.yaml")
		Expect(os.WriteFile(path, []byte(strings.Replace(small, "low", "off", 1)), 0o600)).To(Succeed())
		_, err := console.Load("bad.yaml", dir)
		Expect(err).To(MatchError(path + `:11:8: latch: "off" is not high or low`))
	})
	It("refuses a file that cannot be a profile", func() {
		path := filepath.Join(dir, "big.yaml")
		Expect(os.WriteFile(path, make([]byte, 1<<20+1), 0o600)).To(Succeed())
		_, err := console.Load("big.yaml", dir)
		Expect(err).To(MatchError(path + ": larger than 1048576 bytes; not a console profile"))
		_, err = console.Load(".", dir)
		Expect(err).To(HaveOccurred())
		Expect(errors.Is(err, fs.ErrNotExist)).To(BeFalse())
	})
})

func FuzzParse(f *testing.F) {
	for _, src := range []string{small, least, "version: 1\nconsole: 7\nrate: 60.1\n", "a: &b [*b]\n", "\x00", "%YAML 9\n"} {
		f.Add([]byte(src))
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		p, err := console.Parse("f", src)
		if err != nil {
			var list console.ErrorList
			if !errors.As(err, &list) || len(list) == 0 {
				t.Fatalf("%T", err)
			}
			for _, problem := range list {
				if problem.Line < 1 || problem.Col < 1 || problem.Text == "" {
					t.Fatalf("%#v", problem)
				}
			}
			return
		}
		again, err := console.Parse("f", p.Format())
		if err != nil {
			t.Fatalf("%v\n%s", err, p.Format())
		}
		if string(again.Format()) != string(p.Format()) {
			t.Fatalf("%s\nthen\n%s", p.Format(), again.Format())
		}
	})
}
