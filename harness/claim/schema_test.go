package claim_test

import (
	"bytes"
	"encoding/json"
	"os"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"go.yaml.in/yaml/v3"

	"latchproof/harness/claim"
)

// compile compiles a schema. The compiler (santhosh-tekuri/jsonschema v6) validates
// it against the metaschema that its $schema names.
func compile(id string, src []byte) (*jsonschema.Schema, error) {
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(src))
	if err != nil {
		return nil, err
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource(id, doc); err != nil {
		return nil, err
	}
	return c.Compile(id)
}

// accepts validates YAML, read by the library's own decoder, as JSON.
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

var goodHouses = []string{
	houseText,
	houseText + "repeats: 1\nlockstep: 1\nbenches: 16\nties: earlier\nlimits: {reads: 864000}\n",
	"version: 1\nhouse: 名前\ncategories: {a.b-c_1: {spec: a b/c.yaml}, b: {spec: d}}\n",
}

var badHouses = []string{
	"", "[]", "5", "version: 1\n",
	strings.Replace(houseText, "version: 1", "version: 2", 1),
	strings.Replace(houseText, "Linden Street", "", 1),
	strings.Replace(houseText, "walk:", "'a b':", 1),
	strings.Replace(houseText, "walk.spec.yaml", "/walk.spec.yaml", 1),
	strings.Replace(houseText, "{spec: walk.spec.yaml}", "{}", 1),
	strings.Replace(houseText, "{spec: walk.spec.yaml}", "{spec: a, more: b}", 1),
	strings.Replace(houseText, "{spec: walk.spec.yaml}", "walk.spec.yaml", 1),
	strings.Replace(houseText, "own_specs: true", "own_specs: 1", 1),
	houseText + "repeats: 0\n", houseText + "repeats: 1001\n", houseText + "lockstep: 0\n", houseText + "benches: 17\n",
	houseText + "ties: later\n", houseText + "limits: {}\n", houseText + "limits: {reads: 0}\n", houseText + "limits: {reads: 864001}\n",
	houseText + "colour: red\n",
}

var _ = Describe("the JSON Schemas", func() {
	claims := func() *jsonschema.Schema {
		s, err := compile(claim.ClaimSchemaID, claim.ClaimSchema())
		Expect(err).NotTo(HaveOccurred())
		return s
	}
	houses := func() *jsonschema.Schema {
		s, err := compile(claim.HouseSchemaID, claim.HouseSchema())
		Expect(err).NotTo(HaveOccurred())
		return s
	}

	It("are the ones published, in ASCII", func() {
		for name, want := range map[string][]byte{"claim.schema.json": claim.ClaimSchema(), "house.schema.json": claim.HouseSchema()} {
			published, err := os.ReadFile(name)
			Expect(err).NotTo(HaveOccurred())
			Expect(string(published)).To(Equal(string(want)), "run: go generate ./harness/claim")
			Expect(string(want)).To(MatchRegexp(`^[\n -~]+$`))
		}
	})

	It("name draft 2020-12 and are valid by its metaschema", func() {
		Expect(claims().DraftVersion).To(Equal(2020))
		Expect(houses().DraftVersion).To(Equal(2020))
	})

	It("accept what is read", func() {
		for _, src := range []string{claimText, ownText} {
			Expect(accepts(claims(), src)).To(Succeed(), src)
		}
		for _, name := range goodNames {
			Expect(accepts(claims(), strings.Replace(claimText, "Some Name", quoted(name), 1))).To(Succeed(), name)
		}
		for _, src := range goodHouses {
			Expect(claim.ParseHouse("a", []byte(src))).Error().NotTo(HaveOccurred(), src)
			Expect(accepts(houses(), src)).To(Succeed(), src)
		}
	})

	It("refuse what is not read, as far as they can say it", func() {
		n := 0
		for _, c := range badClaims {
			if c.schema {
				n++
				Expect(accepts(claims(), strings.Replace(claimText, c.from, c.to, 1))).NotTo(Succeed(), c.what)
			}
		}
		Expect(n).To(BeNumerically(">", 20))
		for what, name := range badNames {
			Expect(accepts(claims(), strings.Replace(claimText, "Some Name", name, 1))).NotTo(Succeed(), what)
		}
		for _, src := range badHouses {
			Expect(claim.ParseHouse("a", []byte(src))).Error().To(HaveOccurred(), src)
			Expect(accepts(houses(), src)).NotTo(Succeed(), src)
		}
	})

	It("describe every key", func() {
		for _, src := range [][]byte{claim.ClaimSchema(), claim.HouseSchema()} {
			var doc map[string]any
			Expect(json.Unmarshal(src, &doc)).To(Succeed())
			for k, p := range doc["properties"].(map[string]any) {
				Expect(p.(map[string]any)["description"]).NotTo(BeEmpty(), k)
			}
		}
	})
})
