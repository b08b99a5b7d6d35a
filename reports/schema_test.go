package reports

import (
	"bytes"
	"encoding/json"
	"maps"
	"os"
	"reflect"
	"slices"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"latchproof/reports/internal/reportschema"
)

// compiled compiles the published schema. The compiler (santhosh-tekuri/jsonschema
// v6.0.3) validates it against the metaschema that its $schema names. Strict
// refuses keys that the schema does not know, which a reader may not.
func compiled(strict bool) *jsonschema.Schema {
	GinkgoHelper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(Schema()))
	Expect(err).NotTo(HaveOccurred())
	if strict {
		objects := append(slices.Collect(maps.Values(doc.(map[string]any)["$defs"].(map[string]any))), doc)
		for _, o := range objects {
			o.(map[string]any)["additionalProperties"] = false
		}
	}
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	Expect(c.AddResource(SchemaID, doc)).To(Succeed())
	s, err := c.Compile(SchemaID)
	Expect(err).NotTo(HaveOccurred())
	return s
}

func validates(s *jsonschema.Schema, text string) error {
	GinkgoHelper()
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(text))
	Expect(err).NotTo(HaveOccurred())
	return s.Validate(doc)
}

var _ = Describe("the JSON Schema", func() {
	It("is the one that go generate makes of the model", func() {
		want, err := reportschema.Generate(".", SchemaID, reflect.TypeFor[Session]())
		Expect(err).NotTo(HaveOccurred())
		file, err := os.ReadFile("report.schema.json")
		Expect(err).NotTo(HaveOccurred())
		Expect(string(file) == string(want)).To(BeTrue(), "report.schema.json is not that of the model: run `go generate ./reports`")
		Expect(Schema()).To(Equal(file))
	})

	It("holds for every sample, with no key that it does not know", func() {
		s := compiled(true)
		for name, sample := range samples {
			if name == "a spec with nothing" { // has no verdict, and a spec has one
				Expect(validates(s, written(sample()))).NotTo(Succeed())
				continue
			}
			Expect(validates(s, written(sample()))).To(Succeed(), name)
		}
		Expect(validates(s, written(Session{}))).To(Succeed())
	})

	It("lets a reader meet keys of a later version", func() {
		Expect(validates(compiled(false), strings.Replace(written(sampleHeld()), `"title"`, `"mood": "calm", "title"`, 1))).To(Succeed())
		Expect(validates(compiled(true), strings.Replace(written(sampleHeld()), `"title"`, `"mood": "calm", "title"`, 1))).NotTo(Succeed())
	})

	DescribeTable("refuses", func(old, changed string) {
		text := written(sampleThree())
		Expect(text).To(ContainSubstring(old))
		Expect(validates(compiled(false), strings.Replace(text, old, changed, 1))).NotTo(Succeed())
	},
		Entry("a verdict that there is not", `"verdict": "not held"`, `"verdict": "maybe"`),
		Entry("a kind of divergence that there is not", `"kind": "picture"`, `"kind": "mood"`),
		Entry("a text where a number stands", `"frames": 868`, `"frames": "868"`),
		Entry("half a frame", `"frames": 868`, `"frames": 868.5`),
		Entry("a rate that is no share", `"high": 0.8819`, `"high": 88.19`),
		Entry("no list", `"specs": [`, `"specs": null, "was": [`),
		Entry("a session without its date", `"made": "`, `"made_by": "`),
		Entry("a date of another form", `"made": "2031-05-17T19:42:00Z"`, `"made": "17 May 2031"`),
		Entry("another format", `"format": 1`, `"format": 2`),
		Entry("a hash that is none", `"program_hash": "5b`, `"program_hash": "XX`),
	)

	It("describes every key and requires those that are always written", func() {
		var doc struct {
			Required   []string
			Properties map[string]any
			Defs       map[string]struct {
				Description string
				Required    []string
				Properties  map[string]map[string]any
			} `json:"$defs"`
		}
		Expect(json.Unmarshal(Schema(), &doc)).To(Succeed())
		Expect(doc.Required).To(ContainElements("$schema", "format", "title", "specs"))
		Expect(doc.Required).NotTo(ContainElement("soak"))
		Expect(doc.Defs["Divergence"].Required).To(ContainElements("frame", "kind", "reads_around"))
		for name, d := range doc.Defs {
			Expect(d.Description).NotTo(BeEmpty(), name)
			for key, p := range d.Properties {
				Expect(p["description"]).To(MatchRegexp(`^[A-Z0-9].*\.$`), name+"."+key)
			}
		}
	})
})
