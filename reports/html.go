package reports

import (
	_ "embed"
	"encoding/base64"
	"html/template"
	"io"
)

//go:embed page.gohtml
var pageText string

var page = template.Must(template.New("page").Funcs(template.FuncMap{"uri": dataURI}).Parse(pageText))

// WriteHTML writes a session as one self-contained HTML page.
func WriteHTML(w io.Writer, s Session) error { return page.Execute(w, s) }

// dataURI is safe to show: base64 has no character that ends an attribute, and
// the type is one of two.
func dataURI(p *Picture) template.URL {
	kind := "image/png"
	if p.Type == "image/jpeg" {
		kind = p.Type
	}
	return template.URL("data:" + kind + ";base64," + base64.StdEncoding.EncodeToString(p.Data))
}
