package specs

import (
	"errors"
	"fmt"
	"sort"
	"strings"

	"latchproof/specs/console"
)

// Pos is a place in a file. Line and Col count from 1; Col counts characters.
// Key is the path of the value meant, such as `checkpoints[0].shows.near`
// (entries of a list count from 0), or empty for the file as a whole.
type Pos struct {
	File      string
	Line, Col int
	Key       string
}

// String is `file:line:col`.
func (p Pos) String() string { return fmt.Sprintf("%s:%d:%d", p.File, p.Line, p.Col) }

// Errorf makes an error at this place. A %w verb keeps its cause for errors.Is.
func (p Pos) Errorf(format string, args ...any) *Error {
	err := fmt.Errorf(format, args...)
	return &Error{Pos: p, Problem: err.Error(), cause: errors.Unwrap(err)}
}

// Error is one problem of a file.
type Error struct {
	Pos
	Problem string
	cause   error
}

// Error is `file:line:col: key: problem`, or `file:line:col: problem` when no
// key is meant.
func (e *Error) Error() string {
	if e.Key == "" {
		return e.Pos.String() + ": " + e.Problem
	}
	return e.Pos.String() + ": " + e.Key + ": " + e.Problem
}

// Unwrap is the error that led to this one, or nil.
func (e *Error) Unwrap() error { return e.cause }

// ErrorList is every problem found, in the order of the files. It is never
// empty when returned as an error.
type ErrorList []*Error

// Error is one problem per line.
func (l ErrorList) Error() string {
	lines := make([]string, len(l))
	for i, e := range l {
		lines[i] = e.Error()
	}
	return strings.Join(lines, "\n")
}

// Unwrap lets errors.Is and errors.As look at every problem.
func (l ErrorList) Unwrap() []error {
	all := make([]error, len(l))
	for i, e := range l {
		all[i] = e
	}
	return all
}

// MaxProblems is how many problems of one file are listed; the rest is counted.
const MaxProblems = 100

// problems collects the errors of one file.
type problems struct {
	list ErrorList
	more int
}

// full says that further problems are only counted.
func (p *problems) full() bool { return len(p.list) >= MaxProblems }

func (p *problems) add(e *Error) {
	if p.full() {
		p.more++
		return
	}
	p.list = append(p.list, e)
}

// err is the list in the order of the lines, or nil when there is none.
func (p *problems) err() ErrorList {
	if len(p.list) == 0 {
		return nil
	}
	sort.SliceStable(p.list, func(i, j int) bool {
		a, b := p.list[i], p.list[j]
		if a.Line != b.Line {
			return a.Line < b.Line
		}
		return a.Col < b.Col
	})
	list := append(ErrorList(nil), p.list...)
	if p.more > 0 {
		last := list[len(list)-1].Pos
		last.Key = ""
		list = append(list, last.Errorf("%d more problems are not listed", p.more))
	}
	return list
}

// listOf turns the error list of the console and program packages into an
// ErrorList. Another error is put at the place given.
func listOf(err error, otherwise Pos) ErrorList {
	var own ErrorList
	var theirs console.ErrorList
	switch {
	case errors.As(err, &own):
		return own
	case errors.As(err, &theirs):
		list := make(ErrorList, len(theirs))
		for i, p := range theirs {
			list[i] = &Error{Pos: Pos{File: p.File, Line: p.Line, Col: p.Col, Key: p.Key}, Problem: p.Text, cause: err}
		}
		return list
	}
	return ErrorList{otherwise.Errorf("%w", err)}
}
