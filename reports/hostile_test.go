package reports

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"golang.org/x/net/html"
)

// filled is a session in which every field holds something: word gives the
// texts by their path, every list has two entries, every pointer points
// somewhere, and every picture is a real one.
func filled(word func(path string) string) Session {
	var s Session
	fill(reflect.ValueOf(&s).Elem(), "", word)
	return s
}

func fill(v reflect.Value, path string, word func(string) string) {
	if v.Type() == reflect.TypeFor[time.Time]() {
		v.Set(reflect.ValueOf(time.Unix(1e9, 0)))
		return
	}
	switch v.Kind() {
	case reflect.String:
		v.SetString(word(path))
	case reflect.Int, reflect.Int64:
		v.SetInt(1)
	case reflect.Float64:
		v.SetFloat(0.5)
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fill(v.Elem(), path, word)
	case reflect.Array:
		for i := range v.Len() {
			fill(v.Index(i), path, word)
		}
	case reflect.Slice:
		if v.Type() == reflect.TypeFor[[]byte]() {
			v.SetBytes(dot)
			return
		}
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		for i := range v.Len() {
			fill(v.Index(i), fmt.Sprintf("%s.%d", path, i), word)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			fill(v.Field(i), path+"."+v.Type().Field(i).Name, word)
		}
	default:
		panic("no filling for " + v.Kind().String() + " at " + path)
	}
}

var dot = func() []byte {
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 32, 30))); err != nil {
		panic(err)
	}
	return b.Bytes()
}()

// known puts words that the model knows into the fields that have such, and
// leaves the rest to word.
func known(word func(string) string) func(string) string {
	return func(path string) string {
		last := path[strings.LastIndex(path, ".")+1:]
		switch {
		case regexp.MustCompile(`^\.Specs\.\d\.Verdict$`).MatchString(path):
			return "not held"
		case last == "Verdict" && strings.Contains(path, ".0.Verdict"):
			return "pass"
		case last == "Verdict":
			return "fail"
		case last == "State":
			return "sealed"
		case last == "Kind" && strings.Contains(path, "Checkpoints"):
			return "shows"
		case last == "Kind":
			return "picture"
		case last == "Repeat" || last == "Name" && strings.Contains(path, "Repeats"):
			return "r"
		}
		return word(path)
	}
}

func render(s Session) string {
	GinkgoHelper()
	var b bytes.Buffer
	Expect(WriteHTML(&b, s)).To(Succeed())
	return b.String()
}

// An element of a page: its name and the names of its attributes.
type element struct {
	name  string
	attrs []html.Attribute
}

func (e element) shape() string {
	out := e.name
	for _, a := range e.attrs {
		out += " " + a.Key
	}
	return out
}

func parse(page string) (elements []element, words string) {
	GinkgoHelper()
	root, err := html.Parse(strings.NewReader(page))
	Expect(err).NotTo(HaveOccurred())
	var b strings.Builder
	for n := range root.Descendants() {
		switch n.Type {
		case html.ElementNode:
			elements = append(elements, element{n.Data, n.Attr})
		case html.TextNode:
			if n.Parent.Data != "style" {
				b.WriteString(n.Data + "\n")
			}
		}
	}
	return elements, b.String()
}

func shapes(page string) (out []string) {
	GinkgoHelper()
	es, _ := parse(page)
	for _, e := range es {
		out = append(out, e.shape())
	}
	return out
}

// expectQuiet asserts that nothing on a page acts, or asks for anything.
func expectQuiet(page string) {
	GinkgoHelper()
	allowed := strings.Fields("html head meta title style body svg symbol desc path circle rect g text use header main section article div span p h1 h2 h3 h4 " +
		"b strong small bdi code time br a img figure figcaption details summary table thead tbody tr th td ul li dl dt dd " +
		"script canvas button input select option label")
	es, _ := parse(page)
	styles := 0
	for _, e := range es {
		Expect(allowed).To(ContainElement(e.name))
		if e.name == "style" {
			styles++
		}
		for _, a := range e.attrs {
			Expect(a.Key).NotTo(HavePrefix("on"), "%s %s", e.name, a.Key)
			switch a.Key {
			case "href":
				Expect(a.Val).To(MatchRegexp(`^#[a-z0-9-]+$`))
			case "src":
				Expect(a.Val).To(MatchRegexp(`^data:image/(png|jpeg);base64,[A-Za-z0-9+/]+=*$`))
			case "style":
				Expect(a.Val).To(MatchRegexp(`^--w:\d+;--h:\d+;--s:\d$`))
			case "id", "class", "d", "aria-labelledby":
				Expect(a.Val).To(MatchRegexp(`^[A-Za-z0-9 .\-]*$`), a.Key)
			case "srcset", "action", "formaction", "background", "poster", "data", "xlink", "srcdoc":
				Fail("a page has " + a.Key)
			}
		}
	}
	Expect(styles).To(Equal(1))
	expectOneScript(page)
	Expect(page).NotTo(MatchRegexp("[\u202a-\u202e\u2066-\u2069]"), "marks that turn the reading order")
	Expect(page).NotTo(ContainSubstring("ZgotmplZ"), "html/template refused a value")
}

func same(text string) func(string) string { return func(string) string { return text } }

var _ = Describe("hostile text", func() {
	plain := shapes
	DescribeTable("in every field changes no element and no attribute of the page, and stays readable",
		func(hostile, shown string) {
			for _, mode := range []func(func(string) string) func(string) string{known, func(w func(string) string) func(string) string { return w }} {
				page := render(filled(mode(same(hostile))))
				expectQuiet(page)
				Expect(shapes(page)).To(Equal(plain(render(filled(mode(same("plain")))))))
				_, words := parse(page)
				Expect(words).To(ContainSubstring(shown))
			}
		},
		Entry("a script", `<script>alert(1)</script>`, `<script>alert(1)`),
		Entry("a picture that fails", `<img src=x onerror=alert(1)>`, `<img src=x onerror`),
		Entry("double quotes", `" onload="alert(1)`, `" onload="alert(1)`),
		Entry("single quotes", `' onload='alert(1)`, `' onload='alert(1)`),
		Entry("no quotes", ` onfocus=alert(1) `, `onfocus=alert(1)`),
		Entry("the end of the style", `</style><b>x`, `</style><b>x`),
		Entry("the end of a title", `</title></svg><hr>`, `</title></svg><hr>`),
		Entry("a comment", `<!-- --><!--`, `<!-- --><!--`),
		Entry("a section of characters", `<![CDATA[x]]>`, `<![CDATA[x]]>`),
		Entry("an address that is a program", `javascript:alert(1)`, `javascript:alert(1)`),
		Entry("another one", `data:text/html,<script>`, `data:text/html,<sc`),
		Entry("a style", `;background:url(//a)`, `;background:url(//`),
		Entry("a template action", `{{.Title}}`, `{{.Title}}`),
		Entry("entities", `&lt;b&gt;&#0;`, `&lt;b&gt;&#0;`),
		Entry("a right-to-left override", "abc\u202edef", "abc[U+202E]def"),
		Entry("isolates", "\u2066abc\u2069", "[U+2066]abc[U+2069]"),
		Entry("control characters", "a\x00b\x1bc", "a[U+0000]b[U+001B]c"),
		Entry("bytes that are not UTF-8", "a\xff\xfeb", "a\uFFFDb"),
	)

	It("leaves letters that read from right to left as they are, isolated", func() {
		page := render(filled(known(same("פנס ראשון"))))
		Expect(page).To(ContainSubstring("<bdi>פנס ראשון</bdi>"))
		Expect(page).To(ContainSubstring(`dir="auto"`))
	})

	It("cuts very long names, and keeps more of them in the title attribute", func() {
		long := strings.Repeat("long ", 40) + "<i>end</i>"
		page := render(filled(known(same(long))))
		expectQuiet(page)
		Expect(page).To(ContainSubstring(`title="` + strings.Repeat("long ", 40) + `&lt;i&gt;end`))
		var names []string
		for _, s := range shapes(page) {
			names = append(names, strings.Replace(s, "bdi title", "bdi", 1))
		}
		Expect(names).To(Equal(plain(render(filled(known(same("plain")))))))
	})

	It("cuts running text that never ends, and says so", func() {
		page := render(filled(known(same(strings.Repeat("x", longText+1234)))))
		Expect(page).To(ContainSubstring("… (1,234 more characters)"))
		Expect(page).NotTo(ContainSubstring(strings.Repeat("x", longText+1)))
	})
})

var _ = Describe("the page", func() {
	It("shows every text of a session", func() {
		var paths []string
		s := filled(known(func(path string) string {
			paths = append(paths, path)
			return fmt.Sprintf("text%dend", len(paths)-1)
		}))
		page := render(s)
		// The type of a picture is found from its data, and a template that is
		// no picture of its own has no use for it. The parts of the bench stand in
		// its texts too, and by themselves for an index only. Why there is no
		// picture is not said where there is one.
		hidden := regexp.MustCompile(`\.Type$|\.Window\..*\.Unseen$|^\.Bench\.(ConsoleSerial|FeederRevision|FeederFirmware|FeederSerial)$`)
		var missing []string
		for i, path := range paths {
			if !strings.Contains(page, fmt.Sprintf("text%dend", i)) && !hidden.MatchString(path) {
				missing = append(missing, path)
			}
		}
		slices.Sort(missing)
		Expect(missing).To(BeEmpty())
	})
})
