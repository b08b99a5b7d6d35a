package reports

import (
	"bytes"
	"encoding/json"
	"math"
	"reflect"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func written(s Session) string {
	GinkgoHelper()
	var b bytes.Buffer
	Expect(WriteJSON(&b, s)).To(Succeed())
	return b.String()
}

// withoutPictures is what JSON can hold of a session.
func withoutPictures(s Session) Session {
	for i := range s.Specs {
		for j := range s.Specs[i].Checkpoints {
			c := &s.Specs[i].Checkpoints[j]
			c.Templates = nil
			for k := range c.Results {
				c.Results[k].Seen = nil
			}
		}
		for j := range s.Specs[i].Divergences {
			d := &s.Specs[i].Divergences[j]
			d.PictureA, d.PictureB, d.Window = nil, nil, nil
		}
	}
	return s
}

var _ = Describe("the JSON", func() {
	It("is read back as it was written, without the pictures", func() {
		s := filled(same("<b>\u202e\"text\\ "))
		back, err := ReadJSON(strings.NewReader(written(s)))
		Expect(err).NotTo(HaveOccurred())
		Expect(back.Made.Equal(s.Made)).To(BeTrue())
		back.Made = s.Made
		Expect(back).To(Equal(withoutPictures(s)))
	})

	It("has a list wherever the model has one, never null", func() {
		for _, s := range []Session{{}, {Specs: []Spec{{}}}, {Specs: []Spec{{
			Lockstep: Lockstep{Families: []Family{{}}}, Repeats: []Repeat{{}}, Checkpoints: []Checkpoint{{}}, Divergences: []Divergence{{}},
		}}}} {
			Expect(written(s)).NotTo(ContainSubstring("null"))
		}
		Expect(written(Session{})).To(ContainSubstring(`"specs": []`))
	})

	It("leaves the session that it was given as it was", func() {
		s := Session{Specs: []Spec{{}}}
		written(s)
		Expect(s.Specs[0].Repeats).To(BeNil())
	})

	It("is indented and ends with a line feed", func() {
		Expect(written(Session{Title: "x"})).To(HavePrefix("{\n  \"$schema\": \"urn:latchproof:report:1\",\n  \"format\": 1,\n  \"title\": \"x\",\n"))
		Expect(written(Session{})).To(HaveSuffix("}\n"))
	})

	It("says where a number is that JSON cannot hold", func() {
		for _, f := range []float64{math.NaN(), math.Inf(1)} {
			var b bytes.Buffer
			err := WriteJSON(&b, Session{Specs: []Spec{{Repeats: []Repeat{{}, {PPM: f}}}}})
			Expect(err).To(MatchError(ContainSubstring("session.Specs[0].Repeats[1].PPM: ")))
			Expect(b.Len()).To(BeZero())
		}
	})

	It("is refused with keys that are not in the model", func() {
		_, err := ReadJSON(strings.NewReader(`{"title": "x", "colour": "red"}`))
		Expect(err).To(MatchError(ContainSubstring(`unknown field "colour"`)))
	})

	It("is read without a format, and refused with another one", func() {
		s, err := ReadJSON(strings.NewReader(`{"title": "old"}`))
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Title).To(Equal("old"))
		_, err = ReadJSON(strings.NewReader(`{"format": 2, "title": "new"}`))
		Expect(err).To(MatchError("session: format 2 is not known; this reads format 1"))
	})

	It("has a key of its own for every field but the pictures", func() {
		var walk func(t reflect.Type)
		walk = func(t reflect.Type) {
			switch t.Kind() {
			case reflect.Slice, reflect.Pointer, reflect.Array:
				walk(t.Elem())
			case reflect.Struct:
				if t.PkgPath() != reflect.TypeFor[Session]().PkgPath() || t == reflect.TypeFor[Picture]() {
					return
				}
				for i := range t.NumField() {
					f := t.Field(i)
					tag := strings.Split(f.Tag.Get("json"), ",")[0]
					Expect(tag).To(MatchRegexp(`^([a-z_]+|-)$`), f.Name)
					walk(f.Type)
				}
			}
		}
		walk(reflect.TypeFor[Session]())
		Expect(json.Valid([]byte(written(filled(same("x")))))).To(BeTrue())
	})
})
