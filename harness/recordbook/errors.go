package recordbook

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"latchproof/harness/durable"
)

// The kinds of failure, for errors.Is.
var (
	// ErrNone: the folder is no record book.
	ErrNone = errors.New("there is no record book")
	// ErrExists: there is something in the folder already.
	ErrExists = errors.New("there is something already")
	// ErrBusy: another process appends to the book.
	ErrBusy = errors.New("another process is at this record book")
	// ErrDamaged: the book is not what was written. The error is a *DamagedError.
	ErrDamaged = errors.New("the record book is damaged")
	// ErrDuplicate: the book has this very certificate. The error is a
	// *DuplicateError.
	ErrDuplicate = errors.New("the certificate is in the record book already")
	// ErrKey: the key is not that of the book.
	ErrKey = errors.New("not the key of the record book")
	// ErrUnfinished: an append failed on the way. The entry is not in the book yet,
	// and is never taken back: the next OpenToAppend finishes it.
	ErrUnfinished = errors.New("the entry is written but has no tree head yet; opening the book to append finishes it")
	// ErrRewritten: the book has not grown from the head.
	ErrRewritten = errors.New("the record book was rewritten")
	// ErrProof: a proof or a head does not hold.
	ErrProof = errors.New("it proves nothing")
	// ErrFull: the disk is full.
	ErrFull = durable.ErrFull
)

// Finding is one damage.
type Finding struct {
	Place string `json:"place"` // file in the book's folder, with / between names
	What  string `json:"what"`
}

// name is the place, which anybody may have named, for a terminal.
func (f Finding) name() string {
	if !utf8.ValidString(f.Place) || strings.ContainsFunc(f.Place, func(r rune) bool { return !unicode.IsPrint(r) }) {
		return strconv.QuoteToASCII(f.Place)
	}
	return f.Place
}

// String is `place: what`; no control character of a file name is in it.
func (f Finding) String() string { return f.name() + ": " + f.What }

// DamagedError says where a book is damaged. One changed byte can be found at
// several places: where it is, and where hashes or heads speak of it.
type DamagedError struct {
	Dir      string
	Findings []Finding // in the order of key, hashes, entries, heads, names; at most 20
	More     int       // how many are not listed
}

// Error is `dir: the record book is damaged: place: what; place: what`.
func (e *DamagedError) Error() string {
	var b strings.Builder
	for _, f := range e.Findings {
		fmt.Fprintf(&b, "; %s", f)
	}
	if e.More > 0 {
		fmt.Fprintf(&b, "; and %d more", e.More)
	}
	return fmt.Sprintf("%s: %v: %s", e.Dir, ErrDamaged, strings.TrimPrefix(b.String(), "; "))
}

// Is reports whether target is ErrDamaged.
func (e *DamagedError) Is(target error) bool { return target == ErrDamaged }

// most is how many findings are listed.
const most = 20

func (e *DamagedError) add(place, format string, a ...any) {
	if len(e.Findings) == most {
		e.More++
		return
	}
	e.Findings = append(e.Findings, Finding{place, fmt.Sprintf(format, a...)})
}

// DuplicateError says which entry has the certificate.
type DuplicateError struct{ Index int64 }

// Error names the entry.
func (e *DuplicateError) Error() string { return fmt.Sprintf("%v: entry %d", ErrDuplicate, e.Index) }

// Is reports whether target is ErrDuplicate.
func (e *DuplicateError) Is(target error) bool { return target == ErrDuplicate }
