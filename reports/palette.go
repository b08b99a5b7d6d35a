package reports

import (
	"fmt"
	"strings"
)

// A colour is one named colour of the page, as #rrggbb, on paper and in the
// dark. The names are CSS custom properties.
type colour struct{ name, light, dark string }

// palette is all colours of the page but those of the marks on pictures. Hues
// are told apart along blue and orange, which the common kinds of colour
// blindness keep (the pairing of the set of Okabe and Ito, "Color Universal
// Design", 2008), and every meaning has a shape and a word beside its colour.
// pairs says which of them meet, and palette_test.go measures their contrast.
var palette = []colour{
	{"paper", "#fbfaf7", "#15181c"},
	{"sheet", "#ffffff", "#1c2026"},
	{"sunk", "#f1efe9", "#23282f"},
	{"ink", "#1c2127", "#e9e6df"},
	{"soft", "#565d66", "#a9b0b8"},
	{"rule", "#d9d5cb", "#363d46"},
	{"edge", "#858178", "#7b848f"}, // borders that carry meaning
	{"link", "#0b4f8f", "#8cc0f5"},
	{"yes", "#0b4f8f", "#8cc0f5"},
	{"yes-sheet", "#e8f1fa", "#172c42"},
	{"no", "#9a3100", "#ffab7d"},
	{"no-sheet", "#fdeee5", "#3d2215"},
	{"unknown", "#5a4a73", "#cdbbe8"},
	{"unknown-sheet", "#f2eef8", "#2b2438"},
	{"f1", "#0b4f8f", "#8cc0f5"}, // families, in turn
	{"f2", "#b34700", "#f59a5f"},
	{"f3", "#0a6b58", "#5fcfb4"},
	{"f4", "#7d3c78", "#e0a0da"},
}

// A pair is a colour that is drawn on another one.
type pair struct{ front, back string }

// textPairs are the colours of text, and shapePairs those of lines and shapes
// that carry a meaning.
var (
	textPairs = []pair{
		{"ink", "paper"}, {"ink", "sheet"}, {"ink", "sunk"},
		{"soft", "paper"}, {"soft", "sheet"}, {"soft", "sunk"},
		{"link", "paper"}, {"link", "sheet"}, {"link", "sunk"},
		{"yes", "paper"}, {"yes", "sheet"}, {"yes", "sunk"}, {"yes", "yes-sheet"}, {"ink", "yes-sheet"}, {"soft", "yes-sheet"},
		{"no", "paper"}, {"no", "sheet"}, {"no", "sunk"}, {"no", "no-sheet"}, {"ink", "no-sheet"}, {"soft", "no-sheet"},
		{"unknown", "paper"}, {"unknown", "sheet"}, {"unknown", "sunk"}, {"unknown", "unknown-sheet"}, {"ink", "unknown-sheet"}, {"soft", "unknown-sheet"},
		{"f1", "sheet"}, {"f2", "sheet"}, {"f3", "sheet"}, {"f4", "sheet"},
	}
	shapePairs = []pair{
		{"edge", "paper"}, {"edge", "sheet"}, {"edge", "sunk"},
		{"sheet", "yes"}, {"sheet", "no"}, {"sheet", "unknown"},
	}
)

// properties is the palette as the style sheet takes it.
func properties() string {
	var light, dark strings.Builder
	for _, c := range palette {
		fmt.Fprintf(&light, "--%s:%s;", c.name, c.light)
		fmt.Fprintf(&dark, "--%s:%s;", c.name, c.dark)
	}
	return ":root{color-scheme:light dark;" + light.String() + "}\n" +
		"@media screen and (prefers-color-scheme:dark){:root{" + dark.String() + "}}\n"
}
