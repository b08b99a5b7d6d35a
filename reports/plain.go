package reports

import (
	"fmt"
	"strings"
	"unicode"
)

// Plain is an untrusted text as one line that can be shown among others: control
// characters of all kinds (C0 and C1 of ISO 6429, so no terminal obeys it) and
// all marks of the reading direction stand as [U+202E], runs of white space are
// one space, and a text with letters that read from right to left is isolated
// (FSI, PDI of Unicode Standard Annex #9), so that it does not reorder what
// stands beside it. Longer texts than 4,000 characters are cut and say so.
func Plain(s string) string { return plain(s, longText) }

// plain is Plain with at most n characters.
func plain(s string, n int) string {
	s, more := cut(s, 8*n) // the rest is never looked at
	var b strings.Builder
	for _, r := range clean(strings.Join(strings.Fields(s), " ")) {
		switch r {
		case 0x061c, 0x200e, 0x200f: // the implicit marks
			fmt.Fprintf(&b, "[U+%04X]", r)
		default:
			b.WriteRune(r)
		}
	}
	out, rest := cut(b.String(), n)
	if rest > 0 || more > 0 {
		out += "…"
	}
	if strings.ContainsFunc(out, leftward) {
		out = "\u2068" + out + "\u2069"
	}
	return out
}

// leftward says whether a letter belongs to a script that is written from right
// to left.
func leftward(r rune) bool {
	return unicode.In(r, unicode.Hebrew, unicode.Arabic, unicode.Syriac, unicode.Thaana, unicode.Nko, unicode.Adlam, unicode.Samaritan, unicode.Mandaic)
}
