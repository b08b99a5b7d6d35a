package soak

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"time"

	"latchproof/harness/stats"
)

// FormatVersion is the version of the journal.
const FormatVersion = 1

// Header is the first line of a journal: what is soaked, on what, and by which
// rules.
type Header struct {
	Format  int         `json:"soak"` // FormatVersion
	Made    time.Time   `json:"made"`
	Version string      `json:"version"` // of the program
	Claim   stats.Claim `json:"claim"`
	Keep    Keep        `json:"keep"`
	Policy  string      `json:"policy"`     // what Keep means, in words
	Most    int         `json:"most"`       // the most repeats that are played
	Timeout int64       `json:"timeout_ns"` // of one repeat
	Subject
}

// Subject is what must stay the same for a soak to go on.
type Subject struct {
	Spec    File `json:"spec"`
	Program File `json:"program"`
	// ProgramHash is that of the expanded program.
	ProgramHash string `json:"program_hash"`
	// Files are the other files that the spec is made of, by name, with their
	// SHA-256.
	Files map[string]string `json:"files"`
	// Bench is the identity of the bench, as run.json keeps it. BenchFile is the
	// path of its file; empty is the built-in bench. BenchHash is the SHA-256 of
	// the file of a simulated bench, which says all there is of it; that of a real
	// one may change (another port) as long as the bench is the same.
	Bench     json.RawMessage `json:"bench"`
	BenchFile string          `json:"bench_file,omitempty"`
	BenchHash string          `json:"bench_sha256,omitempty"`
}

// File is a file that the soak began with.
type File struct {
	Name   string `json:"name"`   // of the spec; the program's path as the spec gives it
	Path   string `json:"path"`   // absolute
	SHA256 string `json:"sha256"` // lower-case hex
}

// Same says what of the subject is not what the soak began with: an ErrOther
// that names it; nil when all is.
func (h Header) Same(now Subject) error {
	other := func(format string, a ...any) error {
		return fmt.Errorf("%s is %w", fmt.Sprintf(format, a...), ErrOther)
	}
	switch {
	case h.Spec.Name != now.Spec.Name || h.Spec.SHA256 != now.Spec.SHA256:
		return other("the spec %s", now.Spec.Path)
	case h.ProgramHash != now.ProgramHash || h.Program.SHA256 != now.Program.SHA256:
		return other("the program %s", now.Program.Path)
	}
	for _, name := range slices.Sorted(maps.Keys(h.Files)) {
		if now.Files[name] != h.Files[name] {
			return other("the file %s of the spec", name)
		}
	}
	if len(now.Files) != len(h.Files) {
		return other("the set of files of the spec")
	}
	switch {
	case h.BenchHash != now.BenchHash:
		return other("the bench file %s", now.BenchFile)
	case !bytes.Equal(compact(h.Bench), compact(now.Bench)):
		return other("the bench %s", compact(now.Bench))
	}
	return nil
}

func compact(src []byte) []byte {
	var b bytes.Buffer
	if json.Compact(&b, src) != nil {
		return src
	}
	return b.Bytes()
}

func (h Header) check() error {
	switch {
	case h.Keep != Lean && h.Keep != All:
		return fmt.Errorf("keep policy %q is not known", h.Keep)
	case h.Most < 1:
		return fmt.Errorf("at most %d repeats are none", h.Most)
	case h.Timeout < 0:
		return fmt.Errorf("a time-out of %d ns", h.Timeout)
	}
	return nil
}
