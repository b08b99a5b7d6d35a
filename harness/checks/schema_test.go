package checks_test

import (
	"bytes"
	"encoding/json"
	"os"
	"strings"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"go.yaml.in/yaml/v3"

	"latchproof/harness/checks"
	"latchproof/specs"
)

// compile compiles the schema. The compiler (santhosh-tekuri/jsonschema v6.0.3)
// validates it against the metaschema that its $schema names.
func compile() (*jsonschema.Schema, error) {
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(specs.Schema(checks.All)))
	if err != nil {
		return nil, err
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource(specs.SchemaID, doc); err != nil {
		return nil, err
	}
	return c.Compile(specs.SchemaID)
}

// accepts validates a YAML text as an editor does: as the JSON it stands for.
func accepts(s *jsonschema.Schema, src string) error {
	var x any
	if err := yaml.Unmarshal([]byte(src), &x); err != nil {
		return err
	}
	j, err := json.Marshal(x)
	if err != nil {
		return err
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(j))
	if err != nil {
		return err
	}
	return s.Validate(doc)
}

const headOnly = "version: 1\nspec: s\nprogram: a.prog\nconsole: ntsc-8bit\n"

var goodSpecs = []string{
	headOnly + "repeats: 2",
	headOnly + "repeats: 2\nlockstep: {required: 2}\nlabels: []\nabout: ''\ntail: 0\nmax_reads: 1\nstart: power\ntimeout: 1h30m0.5s",
	headOnly + "checkpoints: [{name: n, at: 0, black: true}]",
	headOnly + "checkpoints: [{name: n m, at: jump-2, black: {level: 200}}]",
	headOnly + "checkpoints: [{name: n, at: [größe+1, 1728000], every: false, shows: {template: art/a b.png}}]",
	headOnly + "checkpoints: [{name: n, at: [0, 0], every: true, unseen: 9, hides: {template: a, near: [0, 4095], within: 0, score: 0.1}}]",
	headOnly + "repeats: 2\nanchor: {frame: 62, shows: {template: gate, score: 1}}",
	headOnly + "repeats: 2\nanchor: {frame: 62, reads: {glyphs: g, at: [0, 0], digits: 2}, equals: 6}",
	headOnly + "checkpoints: [{name: n, at: 0, reads: {glyphs: g, at: [0, 0], digits: 16, characters: '01 ', cell: [8, 8], pitch: 9, score: 0.5}}]",
	headOnly + "checkpoints: [{name: n, at: 0, reads: {glyphs: g, at: [0, 0], digits: 1}, equals: 'A '}]",
	headOnly + "checkpoints: [{name: n, at: 0, reads: {glyphs: g, at: [0, 0], digits: 1}, at_least: 1, at_most: 1}]",
	headOnly + "checkpoints: [{name: n, at: 0, measure: {from: a, to: b.2}, equals: [-4096, 0], tolerance: 1}]\npoints: {a: {template: t}, b.2: {template: t, at: [1, 2], near: [3, 4], within: 5, score: 0.9}}",
	headOnly + "checkpoints: [{name: n, at: 0, screen: {reference: r, ignore: [[0, 0, 1, 1]]}}]",
	headOnly + "checkpoints: [{name: n, at: [0, 5], unseen: 1, still: true}, {name: m, at: [0, jump], still: {for: 2, ignore: []}}]",
	headOnly + "repeats: 2\ntiming: {from: {gone: a}, to: {shows: {template: b, near: [1, 2]}}}",
	headOnly + "repeats: 2\ntiming: {from: {at: jump+1}, to: {at: 400}}",
}

// badSpecs are refused by the schema and by Parse.
var badSpecs = []string{
	"", "[]", "5", headOnly,
	strings.Replace(goodSpecs[0], "version: 1", "version: 2", 1),
	strings.Replace(goodSpecs[0], "version: 1", "version: '1'", 1),
	strings.Replace(goodSpecs[0], "spec: s", "spec: ''", 1),
	strings.Replace(goodSpecs[0], "spec: s", "spec: 5", 1),
	strings.Replace(goodSpecs[0], "spec: s", "spec: 'a  b'", 1),
	strings.Replace(goodSpecs[0], "spec: s", "spec: 'a '", 1),
	strings.Replace(goodSpecs[0], "spec: s", "spec: \"a\\u200bb\"", 1),
	strings.Replace(goodSpecs[0], "spec: s", "spec: "+strings.Repeat("x", 81), 1),
	strings.Replace(goodSpecs[0], "a.prog", "/a.prog", 1),
	strings.Replace(goodSpecs[0], "a.prog", "../a.prog", 1),
	strings.Replace(goodSpecs[0], "a.prog", "a/../a.prog", 1),
	strings.Replace(goodSpecs[0], "a.prog", "a\\b.prog", 1),
	strings.Replace(goodSpecs[0], "a.prog", "C:a.prog", 1),
	strings.Replace(goodSpecs[0], "ntsc-8bit", "{}", 1),
	strings.Replace(goodSpecs[0], "console: ntsc-8bit", "", 1),
	goodSpecs[0] + "\ncolour: red",
	goodSpecs[0] + "\nstart: cold",
	goodSpecs[0] + "\nabout: \"a\\u202eb\"",
	goodSpecs[0] + "\ntimeout: 5",
	goodSpecs[0] + "\ntimeout: 5 s",
	goodSpecs[0] + "\ntail: -1",
	goodSpecs[0] + "\ntail: 1728001",
	goodSpecs[0] + "\nmax_reads: 0",
	goodSpecs[0] + "\nlabels: [a, a]",
	goodSpecs[0] + "\nlabels: ['a b']",
	goodSpecs[0] + "\nlabels: a",
	goodSpecs[0] + "\nlockstep: {}",
	goodSpecs[0] + "\nlockstep: {required: 1}",
	goodSpecs[0] + "\nanchor: {frame: 1}",
	goodSpecs[0] + "\nanchor: {frame: jump, black: true}",
	goodSpecs[0] + "\nanchor: {frame: 1, black: true, shows: {template: a}}",
	headOnly + "repeats: 0",
	headOnly + "repeats: 1",
	headOnly + "repeats: 10001",
	headOnly + "repeats: 2.5",
	headOnly + "checkpoints: []",
	headOnly + "checkpoints: [{}]",
	headOnly + "checkpoints: [{name: n, black: true}]",
	headOnly + "checkpoints: [{at: 1, black: true}]",
	headOnly + "checkpoints: [{name: n, at: 1}]",
	headOnly + "checkpoints: [{name: n, at: 1, black: true}]\nlockstep: {required: 2}",
	headOnly + "checkpoints: [{name: n, at: -1, black: true}]",
	headOnly + "checkpoints: [{name: n, at: 1728001, black: true}]",
	headOnly + "checkpoints: [{name: n, at: '62', black: true}]",
	headOnly + "checkpoints: [{name: n, at: jump + 1, black: true}]",
	headOnly + "checkpoints: [{name: n, at: [1], black: true}]",
	headOnly + "checkpoints: [{name: n, at: [1, 2, 3], black: true}]",
	headOnly + "checkpoints: [{name: n, at: 1, every: true, black: true}]",
	headOnly + "checkpoints: [{name: n, at: [1, 2], every: 1, black: true}]",
	headOnly + "checkpoints: [{name: n, at: [1, 2], unseen: 1, black: true}]",
	headOnly + "checkpoints: [{name: n, at: [1, 2], every: false, unseen: 1, black: true}]",
	headOnly + "checkpoints: [{name: n, at: 1, black: false}]",
	headOnly + "checkpoints: [{name: n, at: 1, black: {level: 0}}]",
	headOnly + "checkpoints: [{name: n, at: 1, black: {levle: 1}}]",
	headOnly + "checkpoints: [{name: n, at: 1, black: true, hides: {template: a}}]",
	headOnly + "checkpoints: [{name: n, at: 1, shows: a}]",
	headOnly + "checkpoints: [{name: n, at: 1, shows: {}}]",
	headOnly + "checkpoints: [{name: n, at: 1, shows: {template: ../a}}]",
	headOnly + "checkpoints: [{name: n, at: 1, shows: {template: a, within: 1}}]",
	headOnly + "checkpoints: [{name: n, at: 1, shows: {template: a, near: [1]}}]",
	headOnly + "checkpoints: [{name: n, at: 1, shows: {template: a, near: [1, -1]}}]",
	headOnly + "checkpoints: [{name: n, at: 1, shows: {template: a, near: [1, 1], within: -1}}]",
	headOnly + "checkpoints: [{name: n, at: 1, shows: {template: a, score: 0.09}}]",
	headOnly + "checkpoints: [{name: n, at: 1, shows: {template: a, score: 1.1}}]",
	headOnly + "checkpoints: [{name: n, at: 1, shows: {template: a, scroe: 1}}]",
	headOnly + "checkpoints: [{name: n, at: 0, reads: {glyphs: g, at: [0, 0]}}]",
	headOnly + "checkpoints: [{name: n, at: 0, reads: {glyphs: g, at: [0, 0], digits: 17}}]",
	headOnly + "checkpoints: [{name: n, at: 0, reads: {glyphs: g, at: [0, 0], digits: 1}, equals: [1, 2]}]",
	headOnly + "checkpoints: [{name: n, at: 0, reads: {glyphs: g, at: [0, 0], digits: 1}, equals: -1}]",
	headOnly + "checkpoints: [{name: n, at: 0, reads: {glyphs: g, at: [0, 0], digits: 1}, tolerance: 1}]",
	headOnly + "checkpoints: [{name: n, at: 0, measure: {from: a, to: b}, equals: 6}]\npoints: {a: {template: t}, b: {template: t}}",
	headOnly + "checkpoints: [{name: n, at: 0, measure: {from: a, to: b}, at_least: 6}]\npoints: {a: {template: t}, b: {template: t}}",
	headOnly + "checkpoints: [{name: n, at: 0, measure: {from: a}}]\npoints: {a: {template: t}}",
	headOnly + "repeats: 2\npoints: {}",
	headOnly + "repeats: 2\npoints: [a]",
	headOnly + "repeats: 2\npoints: {'a b': {template: t}}",
	headOnly + "repeats: 2\npoints: {a: {template: t, within: 1}}",
	headOnly + "checkpoints: [{name: n, at: 0, screen: {reference: r, ignore: [[0, 0, 1]]}}]",
	headOnly + "checkpoints: [{name: n, at: 0, screen: r}]",
	headOnly + "checkpoints: [{name: n, at: 5, still: true}]",
	headOnly + "checkpoints: [{name: n, at: [0, 5], every: true, still: true}]",
	headOnly + "checkpoints: [{name: n, at: [0, 5], still: {for: 1}}]",
	headOnly + "repeats: 2\nanchor: {frame: 62, still: true}",
	headOnly + "repeats: 2\ntiming: {from: {gone: a}}",
	headOnly + "repeats: 2\ntiming: {from: {gone: a, shows: a}, to: {shows: b}}",
	headOnly + "repeats: 2\ntiming: {from: {hides: a}, to: {shows: b}}",
	headOnly + "repeats: 2\ntiming: {from: {}, to: {shows: b}}",
	headOnly + "repeats: 2\ntiming: {from: {at: 5}, to: {shows: [b]}}",
}

var _ = Describe("the JSON Schema", func() {
	It("is the one published", func() {
		published, err := os.ReadFile("../../specs/spec.schema.json")
		Expect(err).NotTo(HaveOccurred())
		Expect(string(published)).To(Equal(string(specs.Schema(checks.All))), "run: go generate ./harness/checks")
	})

	It("names draft 2020-12 and is valid by its metaschema", func() {
		s, err := compile()
		Expect(err).NotTo(HaveOccurred())
		Expect(s.DraftVersion).To(Equal(2020))
	})

	It("compiles for any registry", func() {
		for _, kinds := range []specs.Registry{nil, {checks.Black{}}} {
			doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(specs.Schema(kinds)))
			Expect(err).NotTo(HaveOccurred())
			c := jsonschema.NewCompiler()
			Expect(c.AddResource(specs.SchemaID, doc)).To(Succeed())
			_, err = c.Compile(specs.SchemaID)
			Expect(err).NotTo(HaveOccurred())
		}
	})

	It("describes every key", func() {
		var doc map[string]any
		Expect(json.Unmarshal(specs.Schema(checks.All), &doc)).To(Succeed())
		count := 0
		var walk func(at string, x any)
		walk = func(at string, x any) {
			switch x := x.(type) {
			case map[string]any:
				// Only mappings of known keys; rules over several keys need no text.
				if props, ok := x["properties"].(map[string]any); ok && x["additionalProperties"] == false {
					for k, p := range props {
						Expect(p.(map[string]any)["description"]).NotTo(BeEmpty(), at+"."+k)
						count++
					}
				}
				for k, y := range x {
					walk(at+"."+k, y)
				}
			case []any:
				for _, y := range x {
					walk(at, y)
				}
			}
		}
		walk("", doc)
		Expect(count).To(BeNumerically(">", 30))
	})

	It("accepts what Parse accepts", func() {
		s, err := compile()
		Expect(err).NotTo(HaveOccurred())
		for _, src := range goodSpecs {
			_, err := specs.Parse("a", []byte(src), checks.All)
			Expect(err).NotTo(HaveOccurred(), src)
			Expect(accepts(s, src)).To(Succeed(), src)
		}
	})

	It("refuses what Parse refuses", func() {
		s, err := compile()
		Expect(err).NotTo(HaveOccurred())
		for _, src := range badSpecs {
			_, err := specs.Parse("a", []byte(src), checks.All)
			Expect(err).To(HaveOccurred(), src)
			Expect(accepts(s, src)).NotTo(Succeed(), src)
		}
	})
})

// FuzzSchema: whatever Parse accepts, the schema accepts.
func FuzzSchema(f *testing.F) {
	for _, src := range append(append([]string{}, goodSpecs...), badSpecs...) {
		f.Add([]byte(src))
	}
	s, err := compile()
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		if _, err := specs.Parse("a", src, checks.All); err != nil {
			return
		}
		if err := accepts(s, string(src)); err != nil {
			t.Errorf("%q: %v", src, err)
		}
	})
}
