package baseline

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"latchproof/harness/durable"
	"latchproof/harness/record"
)

// FormatVersion is the version of the layout that this package writes and
// reads.
const FormatVersion = 1

// The names in a baseline's folder.
const (
	FileName    = "baseline.json"
	specsFolder = "specs"
	runsFolder  = "runs"
)

// Meta is baseline.json; doc.go says what each key means.
type Meta struct {
	Format   int               `json:"format"`
	Self     string            `json:"self"`
	Accepted time.Time         `json:"accepted"`
	Versions map[string]string `json:"versions,omitempty"`
	Bench    json.RawMessage   `json:"bench,omitempty"`
	Board    *record.Board     `json:"board,omitempty"`
	Anyway   []string          `json:"anyway,omitempty"`
	Specs    []Spec            `json:"specs"`
}

// Spec is one spec of a baseline.
type Spec struct {
	Name    string                `json:"name"`
	Folder  string                `json:"folder"` // below specs/ and below runs/
	File    string                `json:"file"`   // the spec file in its folder
	Hash    string                `json:"sha256"` // of the spec file
	Program string                `json:"program_hash"`
	Files   map[string]record.Sum `json:"files"` // those the spec is made of, itself included
	Runs    []Run                 `json:"runs"`  // the first is the reference
}

// Run is one run of a baseline.
type Run struct {
	Folder string     `json:"folder"` // below runs/FOLDER/
	Sum    record.Sum `json:"run"`    // of its run.json, which holds the hashes of the rest
}

// The kinds of failure, for errors.Is.
var (
	// ErrExists: there is something in the place of the new baseline.
	ErrExists = errors.New("exists already")
	// ErrNotBaseline: the folder holds no baseline.
	ErrNotBaseline = errors.New("not a baseline")
	// ErrVersion: the baseline has a format that this package does not know.
	ErrVersion = errors.New("unknown baseline format")
	// ErrDamaged: a part of the baseline is missing, is not what was accepted, or
	// is nothing that a baseline may hold.
	ErrDamaged = errors.New("baseline is damaged")
	// ErrUnfit: runs that are no reference; the text says which and why.
	ErrUnfit = errors.New("no baseline can be made of these runs")
)

// FormatMeta makes the text of baseline.json, its own hash filled in.
func FormatMeta(m Meta) ([]byte, error) {
	m.Self = durable.Zeros
	src, err := json.MarshalIndent(m, "", "  ")
	if err != nil {
		return nil, err
	}
	src = append(src, '\n')
	return src, durable.Fill(src)
}

// ParseMeta reads the text of baseline.json. The names in it are such that they
// stay in the baseline's folder. Errors wrap ErrVersion or ErrDamaged.
func ParseMeta(src []byte) (Meta, error) {
	var m Meta
	damaged := func(format string, args ...any) (Meta, error) {
		return Meta{}, fmt.Errorf("%w: %s: %s", ErrDamaged, FileName, fmt.Sprintf(format, args...))
	}
	if !durable.Holds(src) {
		return damaged("its own hash differs")
	}
	var version struct {
		Format int `json:"format"`
	}
	if err := json.Unmarshal(src, &version); err != nil {
		return damaged("%v", err)
	}
	if version.Format != FormatVersion {
		return Meta{}, fmt.Errorf("%s: %w: %d, and %d is known", FileName, ErrVersion, version.Format, FormatVersion)
	}
	dec := json.NewDecoder(bytes.NewReader(src))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&m); err != nil {
		return damaged("%v", err)
	}
	if _, err := dec.Token(); err != io.EOF {
		return damaged("text after the object")
	}
	if len(m.Specs) == 0 {
		return damaged("it names no spec")
	}
	var folders, names []string
	for _, s := range m.Specs {
		if !plainName(s.Folder) || slices.Contains(folders, strings.ToLower(s.Folder)) || s.Name == "" || slices.Contains(names, s.Name) {
			return damaged("spec %q in the folder %q", s.Name, s.Folder)
		}
		folders, names = append(folders, strings.ToLower(s.Folder)), append(names, s.Name)
		if sum, ok := s.Files[s.File]; !ok || sum.SHA256 != s.Hash {
			return damaged("spec %q: its own file is not among its files", s.Name)
		}
		for name := range s.Files {
			if !inside(name) {
				return damaged("file name %q leaves the folder", name)
			}
		}
		if len(s.Runs) < MinRuns || len(s.Runs) > MaxRuns {
			return damaged("spec %q has %d runs, and %d to %d are allowed", s.Name, len(s.Runs), MinRuns, MaxRuns)
		}
		seen := map[string]bool{}
		for _, r := range s.Runs {
			if !plainName(r.Folder) || seen[strings.ToLower(r.Folder)] {
				return damaged("spec %q: run in the folder %q", s.Name, r.Folder)
			}
			seen[strings.ToLower(r.Folder)] = true
		}
	}
	return m, nil
}

// plainName says whether a name is one folder's: letters, digits, '.', '_' and
// '-', not beginning with a dot.
func plainName(s string) bool {
	for i, r := range s {
		ok := r == '-' || r == '_' || r == '.' && i > 0 || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z'
		if !ok {
			return false
		}
	}
	return s != "" && len(s) <= 100
}

// inside says whether a path with slashes stays in the folder it starts from.
func inside(name string) bool {
	return name != "" && name != "." && len(name) <= 400 && !strings.ContainsAny(name, "\\\x00") &&
		filepath.IsLocal(name) && filepath.ToSlash(filepath.Clean(name)) == name
}
