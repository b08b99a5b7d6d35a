package program

import (
	"fmt"
	"strconv"
	"unicode/utf8"

	"latchproof/specs/console"
)

// Problem is one thing wrong in a program.
type Problem = console.Problem

// ErrorList is every problem of one source, in the order of their places. It
// is the type of all errors of Parse and ImportCSV.
type ErrorList = console.ErrorList

// maxProblems is how many problems are told one by one.
const maxProblems = 1000

// problems collects what is wrong in one source.
type problems struct {
	file string
	list ErrorList
	more int
}

func (p *problems) fail(line, col int, format string, args ...any) {
	if len(p.list) >= maxProblems {
		p.more++
		return
	}
	p.list = append(p.list, Problem{File: p.file, Line: line, Col: col, Text: fmt.Sprintf(format, args...)})
}

func (p *problems) any() bool { return len(p.list) > 0 }

func (p *problems) err() error {
	p.list.Sort()
	if p.more > 0 {
		last := p.list[len(p.list)-1]
		p.list = append(p.list, Problem{File: p.file, Line: last.Line, Col: last.Col, Text: fmt.Sprintf("and %d problems more", p.more)})
	}
	return p.list.Err()
}

// quote is strconv.Quote, cut short for messages.
func quote(s string) string { return strconv.Quote(clip(s)) }

// clip cuts a word short for messages.
func clip(s string) string {
	const most = 40
	n := 0
	for i := range s {
		if n == most {
			return s[:i] + "…"
		}
		n++
	}
	return s
}

// place gives line and column of a byte offset. Bytes that are not UTF-8 count
// as one character each.
func place(src []byte, offset int) (line, col int) {
	line, start := 1, 0
	for i, c := range src[:offset] {
		if c == '\n' {
			line, start = line+1, i+1
		}
	}
	return line, utf8.RuneCount(src[start:offset]) + 1
}
