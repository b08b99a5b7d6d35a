package reports

import (
	"bytes"
	_ "embed"
	"html/template"
	"io"
)

//go:embed page.gohtml
var pageText string

// sureText is the parts of the page that say how sure: survival, timing of the
// reads, soak and baseline.
//
//go:embed sure.gohtml
var sureText string

// windowText is the viewer of the pictures around a divergence.
//
//go:embed window.gohtml
var windowText string

//go:embed style.css
var styleText string

var page = template.Must(template.New("page").Funcs(template.FuncMap{
	"text": text, "named": func(s string) name { return named(s, longName) },
	"decimal": decimal, "signed": signed, "mul": func(f, by float64) float64 { return round(f * by) },
	"count": func(n any) string {
		switch n := n.(type) {
		case int:
			return count(n)
		case int64:
			return count(n)
		}
		return ""
	},
}).Parse(flashText + sureText + windowText + pageText))

// WriteHTML writes a session as one self-contained HTML page, in UTF-8. It is
// written whole or not at all: an error of the page's own comes before the
// first byte, later ones are those of w.
//
// Pictures that are not PNG or JPEG are left out. See the package documentation
// for how many are embedded.
func WriteHTML(w io.Writer, s Session) error {
	var b bytes.Buffer
	if err := page.Execute(&b, build(s)); err != nil {
		return err
	}
	_, err := b.WriteTo(w)
	return err
}
