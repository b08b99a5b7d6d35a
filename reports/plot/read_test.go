package plot

import (
	"encoding/xml"
	"errors"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// A drawing read back: what a browser would find in it.
type drawing struct {
	paths map[string][][][2]float64 // by class, the strokes of places
	texts []words
	title string
	desc  string
	wide  float64
	high  float64
}

type words struct {
	class, anchor, text string
	x, y                float64
}

// readBack parses a drawing as XML and holds it to what doc.go promises.
func readBack(svg string) drawing {
	GinkgoHelper()
	d := drawing{paths: map[string][][][2]float64{}}
	dec := xml.NewDecoder(strings.NewReader(svg))
	may := map[string][]string{
		"svg": {"class", "viewBox", "role", "aria-labelledby"}, "title": {"id"}, "desc": {"id"},
		"path": {"class", "d"}, "text": {"class", "x", "y", "text-anchor"},
	}
	for {
		t, err := dec.Token()
		if errors.Is(err, io.EOF) {
			return d
		}
		Expect(err).NotTo(HaveOccurred())
		e, ok := t.(xml.StartElement)
		if !ok {
			continue
		}
		Expect(may).To(HaveKey(e.Name.Local))
		at := map[string]string{}
		for _, a := range e.Attr {
			Expect(may[e.Name.Local]).To(ContainElement(a.Name.Local), e.Name.Local)
			at[a.Name.Local] = a.Value
		}
		switch e.Name.Local {
		case "svg":
			box := numbers(at["viewBox"])
			Expect(box).To(HaveLen(4))
			d.wide, d.high = box[2], box[3]
			Expect(at["role"]).To(Equal("img"))
			ids := strings.Fields(at["aria-labelledby"])
			Expect(ids).To(HaveLen(2))
			Expect(svg).To(ContainSubstring(`<title id="` + ids[0] + `">`))
			Expect(svg).To(ContainSubstring(`<desc id="` + ids[1] + `">`))
		case "title":
			Expect(dec.DecodeElement(&d.title, &e)).To(Succeed())
		case "desc":
			Expect(dec.DecodeElement(&d.desc, &e)).To(Succeed())
		case "path":
			Expect(append(Classes(), TrendClasses()...)).To(ContainElement(at["class"]))
			d.paths[at["class"]] = append(d.paths[at["class"]], strokes(at["d"])...)
		case "text":
			Expect(append(Classes(), TrendClasses()...)).To(ContainElement(at["class"]))
			w := words{class: at["class"], anchor: at["text-anchor"], x: one(at["x"]), y: one(at["y"])}
			Expect(dec.DecodeElement(&w.text, &e)).To(Succeed())
			d.texts = append(d.texts, w)
		}
	}
}

func one(s string) float64 {
	GinkgoHelper()
	f, err := strconv.ParseFloat(s, 64)
	Expect(err).NotTo(HaveOccurred())
	return f
}

func numbers(s string) (out []float64) {
	GinkgoHelper()
	for _, f := range strings.Fields(s) {
		out = append(out, one(f))
	}
	return out
}

var command = regexp.MustCompile(`([A-Z])([^A-Z]*)`)

// strokes are the places that a path goes through.
func strokes(d string) (out [][][2]float64) {
	GinkgoHelper()
	Expect(command.ReplaceAllString(d, "")).To(BeEmpty())
	var at [2]float64
	for _, c := range command.FindAllStringSubmatch(d, -1) {
		ns := numbers(c[2])
		switch c[1] {
		case "M":
			at = [2]float64(ns)
			out = append(out, nil)
		case "L":
			at = [2]float64(ns)
		case "H":
			at[0] = ns[0]
		case "V":
			at[1] = ns[0]
		case "Z":
			at = out[len(out)-1][0]
		default:
			Fail("a path has the command " + c[1])
		}
		out[len(out)-1] = append(out[len(out)-1], at)
	}
	return out
}

// scale reads an axis off the numbers that stand beside it: from two of them, a
// place to a value, by the logarithm when log is set. It knows nothing of how
// the drawing was laid out.
func (d drawing) scale(upright, log bool, value func(string) float64) func(float64) float64 {
	GinkgoHelper()
	anchor := "middle"
	if upright {
		anchor = "end"
	}
	var at, v []float64
	for _, w := range d.texts {
		if w.class != "p-num" || w.anchor != anchor {
			continue
		}
		f := value(w.text)
		if log {
			f = math.Log(f)
		}
		if upright {
			at = append(at, w.y-0.29*letter) // the middle of a line of digits
		} else {
			at = append(at, w.x)
		}
		v = append(v, f)
	}
	Expect(len(v)).To(BeNumerically(">=", 2))
	n := len(v) - 1
	return func(p float64) float64 {
		f := v[0] + (p-at[0])/(at[n]-at[0])*(v[n]-v[0])
		if log {
			return math.Exp(f)
		}
		return f
	}
}

// plain reads a number of an axis.
func plain(s string) float64 {
	GinkgoHelper()
	s = strings.NewReplacer(",", "", "−", "-").Replace(s)
	if rest, ok := strings.CutSuffix(s, " %"); ok {
		return one(rest) / 100
	}
	m, e, ok := strings.Cut(s, "10")
	if ok && (m == "" || strings.HasSuffix(m, "·")) && e != "" {
		digits := strings.NewReplacer("⁻", "-", "⁰", "0", "¹", "1", "²", "2", "³", "3", "⁴", "4", "⁵", "5", "⁶", "6", "⁷", "7", "⁸", "8", "⁹", "9").Replace(e)
		if digits != e {
			if m == "" {
				m = "1"
			}
			return one(strings.TrimSuffix(m, "·")) * math.Pow(10, one(digits))
		}
	}
	return one(s)
}

// expectRoom asserts that no two numbers of an axis touch, and none leaves the
// drawing, at the largest letters that it is laid out for.
func (d drawing) expectRoom() {
	GinkgoHelper()
	type box struct{ x0, y0, x1, y1 float64 }
	var boxes []box
	for _, w := range d.texts {
		long := float64(len([]rune(w.text))) * wide * letter
		x := w.x
		switch w.anchor {
		case "middle":
			x -= long / 2
		case "end":
			x -= long
		}
		b := box{x, w.y - 0.75*letter, x + long, w.y + 0.2*letter}
		Expect(b.x0).To(BeNumerically(">=", -0.1), w.text)
		Expect(b.x1).To(BeNumerically("<=", d.wide+0.1), w.text)
		Expect(b.y0).To(BeNumerically(">=", -0.1), w.text)
		Expect(b.y1).To(BeNumerically("<=", d.high+0.1), w.text)
		for i, o := range boxes {
			apart := b.x0 >= o.x1 || o.x0 >= b.x1 || b.y0 >= o.y1 || o.y0 >= b.y1
			Expect(apart).To(BeTrue(), "%q and %q overlap", w.text, d.texts[i].text)
		}
		boxes = append(boxes, b)
	}
}
