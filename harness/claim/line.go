package claim

import (
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
	if n := uniseg.StringWidth(s); n > l.columns {
		v.Fail("want %s of at most %d columns, have %d", l.says, l.columns, n)
		return "", false
	}
	marks := 0
	for _, r := range s {
		if marks++; !unicode.Is(unicode.M, r) {
			marks = 0
		}
		if marks > maxMarks {
			v.Fail("more than %d marks on one letter", maxMarks)
			return "", false
		}
	}
	return s, true
}
