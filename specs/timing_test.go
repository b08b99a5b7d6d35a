package specs_test

import (
	"os"
	"path/filepath"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/specs"
)

// meadow is lamp with the keys of a kind that reads points, begins timings and
// needs a range.
type meadow struct{ lamp }

func (meadow) Key() string { return "meadow" }

func (m meadow) PointSchema() map[string]any    { return m.Schema() }
func (m meadow) DecodePoint(v *specs.Value) any { return m.Decode(v) }
func (m meadow) EventKey() string               { return "blooms" }
func (m meadow) EventSchema() map[string]any    { return m.Schema() }
func (m meadow) DecodeEvent(v *specs.Value) any { return m.Decode(v) }
func (meadow) Series()                          {}
func (meadow) Companions() map[string]map[string]any {
	return map[string]map[string]any{"equals": specs.NameShape.Schema()}
}

var more = specs.Registry{lamp{}, meter{}, meadow{}}

var _ = Describe("points and timing", func() {
	parse := func(rest string) (*specs.Spec, []string) {
		s, err := specs.Parse("a", []byte(minimal+"repeats: 2\n"+rest), more)
		return s, problemsOf(err)
	}

	It("are read, in the order of the file", func() {
		s, bad := parse("points:\n  b: 3\n  a.1: 4\ntiming: {from: {blooms: 2}, to: {at: jump+3}}\n")
		Expect(bad).To(BeEmpty())
		Expect(s.Points).To(HaveLen(2))
		Expect(s.Points[0].Name).To(Equal("b"))
		Expect(s.Points[0].Line).To(Equal(7))
		Expect(s.Points[1].Of.(*lampCheck).n).To(BeEquivalentTo(4))
		Expect(s.Timing.From.Key).To(Equal("blooms"))
		Expect(s.Timing.From.Check.(*lampCheck).n).To(BeEquivalentTo(2))
		Expect(s.Timing.To.Key).To(Equal("at"))
		Expect(s.Timing.To.At).To(Equal(specs.Moment{Mark: "jump", Offset: 3}))
		Expect(s.Checks()).To(HaveLen(3))
		Expect(s.Files()).To(ContainElement("lamp.png"))
	})

	It("are unknown keys when no kind needs them", func() {
		_, err := specs.Parse("a", []byte(whole+"points: {a: 1}\ntiming: {from: {at: 1}, to: {at: 2}}\n"), kinds)
		Expect(problemsOf(err)).To(HaveLen(2))
	})

	DescribeTable("are refused", func(rest string, want ...string) {
		_, bad := parse(rest)
		Expect(bad).To(Equal(want))
	},
		Entry(nil, "points: 5", "a:6:9: points: want a mapping of named points, have 5"),
		Entry(nil, "points: {}", "a:6:9: points: want a mapping of named points of 1 to 100 entries, have 0"),
		Entry(nil, "points: {a: 1, a: 2}", "a:6:16: points.a: key given twice; first on line 6"),
		Entry(nil, "points: {a: 99}", "a:6:13: points.a: 99 is above 9"),
		Entry(nil, "points: {-: 1}", "a:6:10: points.-: want a name of letters, digits, `_`, `.` and `-`, have \"-\""),
		Entry(nil, "timing: {from: {at: 1}}", "a:6:9: timing.to: missing"),
		Entry(nil, "timing: {from: {at: 1, blooms: 2}, to: {}}",
			"a:6:32: timing.from.blooms: a second event beside at; one is allowed",
			"a:6:40: timing.to: no event; want one of at, blooms"),
		Entry(nil, "timing: {from: {at: [1, 2]}, to: {at: 3}}", "a:6:21: timing.from.at: want a frame or a mark, have a list"),
		Entry(nil, "timing: {from: {hides: 1}, to: {at: 3}}",
			"a:6:16: timing.from: no event; want one of at, blooms",
			"a:6:17: timing.from.hides: unknown key; known are at, blooms"),
		Entry(nil, "anchor: {frame: 1, meadow: 1}",
			"a:6:9: anchor: no check; want one of lamp, meter",
			"a:6:20: anchor.meadow: unknown key; known are equals, frame, lamp, meter"),
		Entry(nil, "checkpoints: [{name: n, at: 1, meadow: 1}]", "a:6:29: checkpoints[0].at: meadow needs a range; write `at: [from, to]`"),
		Entry(nil, "checkpoints: [{name: n, at: [1, 2], every: false, meadow: 1}]",
			"a:6:44: checkpoints[0].every: not with meadow, which is about the whole range"),
		Entry(nil, "checkpoints: [{name: n, at: [1, 2], lamp: 1, equals: 3}]",
			"a:6:54: checkpoints[0].equals: goes with meter and meadow, not with lamp"),
	)
})

var _ = Describe("a timing at a mark", func() {
	load := func(rest string) (*specs.Spec, []string) {
		dir := GinkgoT().TempDir()
		Expect(os.WriteFile(filepath.Join(dir, "a.prog"), []byte("program 1\nrest 60\nmark jump\nhold a for 40\n"), 0o600)).To(Succeed())
		path := filepath.Join(dir, "a.spec.yaml")
		Expect(os.WriteFile(path, []byte(minimal+"repeats: 2\n"+rest), 0o600)).To(Succeed())
		s, err := specs.Load(path, more)
		lines := problemsOf(err)
		for i := range lines {
			lines[i] = strings.ReplaceAll(lines[i], dir+"/", "")
		}
		return s, lines
	}

	It("is held against the program's marks, and its read is logged", func() {
		s, bad := load("timing: {from: {at: jump}, to: {at: jump+50}}")
		Expect(bad).To(BeEmpty())
		Expect(s.LastRead()).To(BeEquivalentTo(110))
		Expect(s.Tail).To(Equal(11 + specs.Margin))
		_, bad = load("timing: {from: {at: jmup}, to: {at: 5}}")
		Expect(bad).To(Equal([]string{"a.spec.yaml:6:21: timing.from.at: no such mark: jmup in a.prog; did you mean jump?"}))
		_, bad = load("timing: {from: {at: jump}, to: {at: jump+50}}\ntail: 10")
		Expect(bad).To(Equal([]string{"a.spec.yaml:6:37: timing.to.at: jump+50 is read 110, which is never logged: the program has 100 reads and the tail 10"}))
	})

	It("prepares its checks and the points", func() {
		_, bad := load("points: {a: 9}\ntiming: {from: {blooms: 9}, to: {at: jump}}")
		Expect(bad).To(Equal([]string{"a.spec.yaml:6:13: points.a: lamp 9 is broken", "a.spec.yaml:7:25: timing.from.blooms: lamp 9 is broken"}))
	})
})
