package soak

import (
	"errors"
	"fmt"

	"latchproof/harness/durable"
)

// The kinds of failure, for errors.Is.
var (
	// ErrDamaged: the journal is not what was written. The error is a
	// *DamagedError.
	ErrDamaged = errors.New("the journal is damaged")
	// ErrVersion: the journal is of a format that this package does not know.
	ErrVersion = errors.New("unknown journal format")
	// ErrExists: the folder has a journal already.
	ErrExists = errors.New("there is a journal already")
	// ErrNone: the folder has no journal.
	ErrNone = errors.New("there is no journal")
	// ErrBusy: another process writes the journal.
	ErrBusy = errors.New("another process is at this soak")
	// ErrFull: the disk is full.
	ErrFull = durable.ErrFull
	// ErrOther: the soak cannot go on with another spec, program or bench.
	ErrOther = errors.New("not the one that the soak began with")
)

// DamagedError says where a journal is damaged.
type DamagedError struct {
	File string
	Line int // from 1
	What string
}

// Error is `file:line: the journal is damaged: what`.
func (e *DamagedError) Error() string {
	return fmt.Sprintf("%s:%d: %v: %s", e.File, e.Line, ErrDamaged, e.What)
}

// Is reports whether target is ErrDamaged.
func (e *DamagedError) Is(target error) bool { return target == ErrDamaged }
