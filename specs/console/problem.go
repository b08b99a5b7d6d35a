package console

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Problem is one thing wrong in a source file.
type Problem struct {
	File string // as the caller named it
	Line int    // from 1; 0 when the problem has no place in a file
	Col  int    // characters, from 1
	Key  string // the key it belongs to, or empty
	Text string // lower case, no full stop
}

// Error is "file:line:col: key: problem", leaving out what is not known.
func (p Problem) Error() string {
	var b strings.Builder
	if p.File != "" {
		b.WriteString(p.File)
		if p.Line > 0 {
			fmt.Fprintf(&b, ":%d:%d", p.Line, p.Col)
		}
		b.WriteString(": ")
	}
	if p.Key != "" {
		b.WriteString(p.Key)
		b.WriteString(": ")
	}
	b.WriteString(p.Text)
	return b.String()
}

// ErrorList is every problem of one source, in the order of their places.
type ErrorList []Problem

// Error is one problem a line.
func (l ErrorList) Error() string {
	lines := make([]string, len(l))
	for i, p := range l {
		lines[i] = p.Error()
	}
	return strings.Join(lines, "\n")
}

// Sort orders the problems by line and column. Problems at one place keep
// their order.
func (l ErrorList) Sort() {
	slices.SortStableFunc(l, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Col, b.Col))
	})
}

// Err is the list as an error: nil when it is empty.
func (l ErrorList) Err() error {
	if len(l) == 0 {
		return nil
	}
	return l
}
