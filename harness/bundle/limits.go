package bundle

import (
	"errors"
	"fmt"
)

// ErrLimit says that an archive is larger than it may be.
var ErrLimit = errors.New("too large")

// Limits of an archive.
type Limits struct {
	Files int   // how many files
	Bytes int64 // the whole archive
}

// DefaultLimits are large enough for a certificate of a long program on several
// benches, and small enough to be read on any computer.
var DefaultLimits = Limits{Files: 10_000, Bytes: 2 << 30}

// room is what of the limits is left.
type room struct {
	Limits
	files int
	bytes int64
}

func newRoom(l Limits) *room { return &room{l, 0, 2 * block} }

func (r *room) take(name string, size int64) error {
	if r.files++; r.files > r.Files {
		return fmt.Errorf("%w: more than %d files", ErrLimit, r.Files)
	}
	if size < 0 || size > r.Bytes {
		return fmt.Errorf("%w: %s has %d bytes; an archive may have %d", ErrLimit, name, size, r.Bytes)
	}
	if r.bytes += block + size + padding(size); r.bytes > r.Bytes {
		return fmt.Errorf("%w: with %s the archive has more than %d bytes", ErrLimit, name, r.Bytes)
	}
	return nil
}
