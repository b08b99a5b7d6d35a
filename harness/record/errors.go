package record

import (
	"errors"
	"fmt"
	"strings"

	"latchproof/harness/durable"
)

// The kinds of failure, for errors.Is.
var (
	// ErrPartial: the run was not sealed. The error is a *PartialError.
	ErrPartial = errors.New("run is partial")
	// ErrDamaged: a file is missing or is not what was sealed. The error is a
	// *DamagedError.
	ErrDamaged = errors.New("run is damaged")
	// ErrNotRun: the folder holds no run.
	ErrNotRun = errors.New("not a run folder")
	// ErrVersion: the run was written in a format this package does not know.
	ErrVersion = errors.New("unknown run format")
	// ErrExists: the folder to write into is there and not empty.
	ErrExists = errors.New("folder is not empty")
	// ErrFull: the disk is full.
	ErrFull = durable.ErrFull
	// ErrClosed: the run was sealed or aborted already.
	ErrClosed = errors.New("run is closed")
)

// PartialError says where an unsealed run stopped.
type PartialError struct {
	Dir   string
	Where string // where it stopped, a plain phrase
	Why   string // why, as far as known
	// LastLatch is the index of the last latch pulse whose row is whole in
	// reads.csv; -1 when there is none. LastMicros is its board time.
	LastLatch  int64
	LastMicros int64
}

// Error is one line.
func (e *PartialError) Error() string {
	return fmt.Sprintf("%s: run is partial: stopped %s: %s", e.Dir, e.Where, e.Why)
}

// Is reports whether target is ErrPartial.
func (e *PartialError) Is(target error) bool { return target == ErrPartial }

// DamagedError lists the files that are not what was sealed.
type DamagedError struct {
	Dir      string
	Problems []Problem // in name order
}

// Problem is one damaged file.
type Problem struct {
	File string // name in the run folder
	What string // "missing", "hash differs", ...
}

// Error is one line per file.
func (e *DamagedError) Error() string {
	lines := make([]string, len(e.Problems))
	for i, p := range e.Problems {
		lines[i] = fmt.Sprintf("%s: run is damaged: %s: %s", e.Dir, p.File, p.What)
	}
	return strings.Join(lines, "\n")
}

// Is reports whether target is ErrDamaged.
func (e *DamagedError) Is(target error) bool { return target == ErrDamaged }

// SyntaxError is one problem in a file's text.
type SyntaxError struct {
	File      string
	Line, Col int // from 1; Col counts bytes
	Problem   string
}

// Error is `file:line:col: problem`.
func (e SyntaxError) Error() string {
	return fmt.Sprintf("%s:%d:%d: %s", e.File, e.Line, e.Col, e.Problem)
}

// ErrorList is all problems of one file, in the order of the text.
type ErrorList []SyntaxError

// Error is one problem per line.
func (l ErrorList) Error() string {
	lines := make([]string, len(l))
	for i, e := range l {
		lines[i] = e.Error()
	}
	return strings.Join(lines, "\n")
}
