package goschema_test

import (
	"encoding/json"
	"reflect"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/specs/goschema"
	"latchproof/specs/goschema/internal/sample"
)

func TestGoschema(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "goschema")
}

var _ = Describe("a schema from a type", func() {
	var m goschema.Model
	BeforeEach(func() {
		m = goschema.Model{
			Root: reflect.TypeFor[sample.Root](), Dir: "internal/sample", ID: "urn:x", Title: "x",
			Words: map[string]string{"Root.mute": "Said elsewhere."},
		}
	})

	It("has the keys, types and comments of the type", func() {
		src, err := goschema.Generate(m)
		Expect(err).NotTo(HaveOccurred())
		Expect(src).To(MatchJSON(`{
			"$schema": "https://json-schema.org/draft/2020-12/schema", "$id": "urn:x", "title": "x",
			"type": "object", "description": "Root is a thing.", "required": ["name", "parts", "mute"],
			"properties": {
				"name": {"type": "string", "description": "What it is called."},
				"parts": {"type": "object", "additionalProperties": {"$ref": "#/$defs/Part"}, "description": "By their names."},
				"mute": {"type": "integer", "description": "Said elsewhere."},
				"next": {"$ref": "#/$defs/Part", "description": "Next is the one behind, if any."}
			},
			"$defs": {"Part": {"type": "object", "description": "Part is one.", "required": ["at"],
				"properties": {"at": {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2, "description": "Its place."}}}}
		}`))
	})

	It("can be closed, ruled, and have keys that the type has not", func() {
		m.Closed = true
		m.Rules = map[string]map[string]any{"Root.name": {"maxLength": 3}}
		m.First, m.FirstOrder = map[string]any{"v": map[string]any{"const": 1}}, []string{"v"}
		src, err := goschema.Generate(m)
		Expect(err).NotTo(HaveOccurred())
		var s map[string]any
		Expect(json.Unmarshal(src, &s)).To(Succeed())
		Expect(s).To(And(HaveKeyWithValue("additionalProperties", false), HaveKeyWithValue("required", ConsistOf("v", "name", "parts", "mute"))))
		Expect(s["properties"]).To(And(HaveKeyWithValue("v", HaveKey("const")), HaveKeyWithValue("name", HaveKeyWithValue("maxLength", 3.0))))
		Expect(s["$defs"]).To(HaveKeyWithValue("Part", HaveKeyWithValue("additionalProperties", false)))
	})

	It("is not made without a description of every key, nor with words and rules for others", func() {
		m.Words = nil
		_, err := goschema.Generate(m)
		Expect(err).To(MatchError("Root.Mute (mute): no description: write a comment beside the field, or a word for it"))
		m.Words = map[string]string{"Root.mute": "x", "Root.none": "x"}
		_, err = goschema.Generate(m)
		Expect(err).To(MatchError("word for Root.none: the model has no such key"))
		m.Words, m.Rules = map[string]string{"Root.mute": "x"}, map[string]map[string]any{"Root.none": nil}
		_, err = goschema.Generate(m)
		Expect(err).To(MatchError("rule for Root.none: the model has no such key"))
	})
})
