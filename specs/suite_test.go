package specs_test

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/specs"
)

func TestSpecs(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "specs")
}

// lamp is a kind for these tests: `lamp: 0..9`.
type lamp struct{}

func (lamp) Key() string { return "lamp" }

func (lamp) Schema() map[string]any { return specs.Int{Min: 0, Max: 9}.Schema() }

func (lamp) Decode(v *specs.Value) any {
	if n, ok := (specs.Int{Min: 0, Max: 9}).Read(v); ok {
		return &lampCheck{n: n, at: v.Pos()}
	}
	return nil
}

// lampCheck is what lamp decodes to. Lamp 9 cannot be prepared.
type lampCheck struct {
	n   int64
	at  specs.Pos
	env specs.Env
}

func (c *lampCheck) Bind(env specs.Env) { c.env = env }

func (c *lampCheck) Prepare() error {
	if c.n == 9 {
		return specs.ErrorList{c.at.Errorf("lamp 9 is broken")}
	}
	return nil
}

func (c *lampCheck) Templates() []string { return []string{"lamp.png"} }

// meter is a kind with a companion: `meter: text` beside `equals: 0..9`.
type meter struct{}

type meterCheck struct{ equals int64 }

func (meter) Key() string { return "meter" }

func (meter) Schema() map[string]any { return specs.NameShape.Schema() }

func (meter) Companions() map[string]map[string]any {
	return map[string]map[string]any{"equals": specs.Int{Min: 0, Max: 9}.Schema()}
}

func (meter) Decode(v *specs.Value) any {
	_, ok := specs.NameShape.Read(v)
	c := &meterCheck{equals: -1}
	if e, given := v.Beside("equals"); given {
		var also bool
		c.equals, also = specs.Int{Min: 0, Max: 9}.Read(e)
		ok = ok && also
	}
	if !ok {
		return nil
	}
	return c
}

var kinds = specs.Registry{lamp{}, meter{}}

// problemsOf are the lines of an error, none for nil.
func problemsOf(err error) []string {
	if err == nil {
		return nil
	}
	var list specs.ErrorList
	ExpectWithOffset(1, err).To(BeAssignableToTypeOf(list))
	lines := []string{}
	for _, e := range err.(specs.ErrorList) {
		lines = append(lines, e.Error())
	}
	return lines
}
