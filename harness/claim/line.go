package claim

import (
	"bytes"
	"fmt"
	"regexp"
	"unicode"

	"github.com/rivo/uniseg"

	"latchproof/specs"
)

// unseen are characters that show nothing although Unicode counts them neither
// as controls nor as spaces: those of Default_Ignorable_Code_Point (Unicode 15,
// DerivedCoreProperties) outside the category C, and the blank Braille cell.
const unseen = "\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180d\u180f\u2800\u3164\ufe00-\ufe0f\uffa0\U000e0100-\U000e01ef"

// linePattern is a line that shows what it holds: no controls, nothing that
// turns the direction of the text, nothing without width, no space but single
// ones between words, and no word that begins with a mark that is put on the
// letter before it.
var linePattern = regexp.MustCompile(`^[^\p{C}\p{Z}\p{M}` + unseen + `][^\p{C}\p{Z}` + unseen + `]*( [^\p{C}\p{Z}\p{M}` + unseen + `][^\p{C}\p{Z}` + unseen + `]*)*$`)

// maxMarks is how many marks may be put on one letter: two are needed for
// writing Vietnamese, Hebrew and polytonic Greek are content with three.
const maxMarks = 3

// line is the shape of a text of one line from a stranger.
type line struct {
	columns int // at most, as a terminal counts them
	says    string
}

func (l line) text() specs.Text {
	return specs.Text{Min: 1, Max: l.columns, Pattern: linePattern, Says: l.says}
}

// Schema describes the line but for its columns and its marks.
func (l line) Schema() map[string]any { return l.text().Schema() }

// Read reads the line.
func (l line) Read(v *specs.Value) (string, bool) {
	s, ok := l.text().Read(v)
	if !ok {
		return "", false
	}
	if why := l.crowded(s); why != "" {
		v.Fail("%s", why)
		return "", false
	}
	return s, true
}

// crowded says what is wrong with a text that the pattern accepts; empty when
// nothing is.
func (l line) crowded(s string) string {
	if n := uniseg.StringWidth(s); n > l.columns {
		return fmt.Sprintf("want %s of at most %d columns, have %d", l.says, l.columns, n)
	}
	marks := 0
	for _, r := range s {
		if marks++; !unicode.Is(unicode.M, r) {
			marks = 0
		}
		if marks > maxMarks {
			return fmt.Sprintf("more than %d marks on one letter", maxMarks)
		}
	}
	return ""
}

// fits says what keeps a text that was read by another shape from being such a
// line; empty when nothing does.
func (l line) fits(s string) string {
	if !linePattern.MatchString(s) {
		return fmt.Sprintf("%+q is not %s", short(s), l.says)
	}
	return l.crowded(s)
}

// turned finds the first character of a text that cannot be seen and is no
// control, such as those that turn its direction: what a maker reads in an editor
// would not be what is played. It gives line and column from 1, and 0 when there
// is none. A byte order mark at the beginning is none.
func turned(src []byte) (at, col int, what rune) {
	at, col = 1, 1
	for _, r := range string(bytes.TrimPrefix(src, []byte("\ufeff"))) {
		switch {
		case r == '\n':
			at, col = at+1, 0
		case unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp, unicode.Other_Default_Ignorable_Code_Point):
			return at, col, r
		}
		col++
	}
	return 0, 0, 0
}
