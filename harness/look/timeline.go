package look

import (
	"fmt"
	"strings"
)

// The characters of a timeline.
const (
	lineAll  = '#' // shows on every seen frame of the column
	lineSome = '+' // on some
	lineNone = '.' // on none
	lineGap  = '?' // no frame of the column was seen
)

// Timeline draws what was found on each frame as a line of at most width
// characters, each standing for as many frames as it takes (at least one), and a
// line with frame numbers below it. Empty when there are no frames.
func (f *Found) Timeline(width int) (line, numbers string, perColumn int) {
	n := len(f.Shows)
	if n == 0 || width < 1 {
		return "", "", 0
	}
	perColumn = (n + width - 1) / width
	var b strings.Builder
	for from := 0; from < n; from += perColumn {
		var count [3]int
		for _, s := range f.Shows[from:min(from+perColumn, n)] {
			count[s]++
		}
		switch {
		case count[Present]+count[Absent] == 0:
			b.WriteByte(lineGap)
		case count[Absent] == 0:
			b.WriteByte(lineAll)
		case count[Present] > 0:
			b.WriteByte(lineSome)
		default:
			b.WriteByte(lineNone)
		}
	}
	line = b.String()
	return line, f.ruler(len(line), perColumn), perColumn
}

// ruler writes the first frame of a column at its place, as many as fit.
func (f *Found) ruler(columns, perColumn int) string {
	var b strings.Builder
	for c := 0; c < columns; {
		text := fmt.Sprint(int(f.Query.From) + c*perColumn)
		if c > 0 && c+len(text) > columns {
			break
		}
		b.WriteString(strings.Repeat(" ", max(0, c-b.Len())))
		b.WriteString(text)
		c += 10
		for c <= b.Len() {
			c += 10
		}
	}
	return b.String()
}
