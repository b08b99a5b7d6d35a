package index

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"html/template"
	"io"

	"latchproof/reports"
)

//go:embed page.gohtml
var pageText string

//go:embed style.css
var styleText string

// Mark stands near the beginning of every page of an index, so that a page of
// somebody else is not written over.
const Mark = `<meta name="generator" content="latchproof index">`

var page = template.Must(template.New("page").Funcs(template.FuncMap{
	"count": reports.Count[int],
	"name":  func(s string) string { return reports.Cut(s, nameLong) },
	"text":  func(s string) string { return reports.Cut(s, 600) },
}).Parse(pageText))

// WriteHTML writes an index as one self-contained page, in UTF-8. to is the way
// from the folder of the page to that of the index, with slashes: "." or "" when
// they are the same. It is written whole or not at all: an error of the page's
// own comes before the first byte.
func WriteHTML(w io.Writer, x Index, to string) error {
	v, err := build(x, to)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := page.Execute(&b, v); err != nil { // to know how much room is left
		return err
	}
	if err := v.rows(x, links{to}, maxPage-b.Len()); err != nil {
		return err
	}
	b.Reset()
	if err := page.Execute(&b, v); err != nil {
		return err
	}
	_, err = b.WriteTo(w)
	return err
}

// WriteJSON writes an index as indented JSON (RFC 8259). No list is null.
func WriteJSON(w io.Writer, x Index) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	return enc.Encode(x)
}
