package record

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"latchproof/harness/durable"
)

// Dropped is a file that was removed from a run on purpose. What it held stays
// known by its hash.
type Dropped struct {
	SHA256 string `json:"sha256"` // as sealed; of a partial run as it was found
	Bytes  int64  `json:"bytes"`
	Why    string `json:"why"` // a plain phrase: "kept by policy lean"
}

// Drop removes files from the sealed or partial run in dir and gives how many
// bytes that were. run.json is rewritten first and names them, with their hashes,
// under `dropped`; then they are removed, and the folder is synced. A drop that
// was killed between the two is finished by calling it again; files dropped
// already and files that a partial run does not have are passed over.
//
// Errors: ErrNotRun, ErrVersion, ErrDamaged (also for a file that was never
// sealed), ErrPartial when the run is still being written, ErrFull, or those of
// the system.
func Drop(dir, why string, names ...string) (freed int64, err error) {
	file := filepath.Join(dir, RunFile)
	src, err := os.ReadFile(file)
	if errors.Is(err, fs.ErrNotExist) {
		return 0, noRunFile(dir)
	}
	if err != nil {
		return 0, err
	}
	m, err := ParseMeta(file, src)
	if err != nil {
		return 0, err
	}
	r := &Run{Dir: dir, Meta: m}
	if m.State == Playing {
		return 0, r.partial()
	}
	fail := func(name string, err error) (int64, error) {
		return freed, fmt.Errorf("%s: dropping %s: %w", dir, name, durable.Plain(err))
	}
	var gone []string
	changed := false
	for _, name := range names {
		sum, sealed := m.Files[name]
		_, before := m.Dropped[name]
		switch {
		case before:
		case sealed:
		case m.State == Sealed:
			return 0, r.Check(name)
		case !goodName(name):
			return 0, fmt.Errorf("%q is not a name for a file of a run", name)
		default:
			if sum, err = sumFile(r.Path(name), false); errors.Is(err, fs.ErrNotExist) {
				continue
			} else if err != nil {
				return fail(name, err)
			}
		}
		gone = append(gone, name)
		if before {
			continue
		}
		if m.Dropped == nil {
			m.Dropped = map[string]Dropped{}
		}
		m.Dropped[name] = Dropped{sum.SHA256, sum.Bytes, why}
		delete(m.Files, name)
		changed = true
	}
	if changed {
		if src, err = FormatMeta(m); err != nil {
			return 0, err
		}
		if err := durable.Replace(dir, RunFile, tempName, src); err != nil {
			return fail(RunFile, err)
		}
	}
	for _, name := range gone {
		err := os.Remove(r.Path(name))
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return fail(name, err)
		}
		freed += m.Dropped[name].Bytes
		if err := durable.SyncDir(filepath.Dir(r.Path(name))); err != nil {
			return fail(name, err)
		}
	}
	return freed, nil
}

// ErrDropped: a file was removed from the run on purpose. The error is a
// *DroppedError.
var ErrDropped = errors.New("file was dropped")

// DroppedError names files that are known and no longer there.
type DroppedError struct {
	Dir   string
	Files map[string]string // name to why
}

// Error is one line per file.
func (e *DroppedError) Error() string {
	var out string
	for i, name := range e.names() {
		if i > 0 {
			out += "\n"
		}
		out += fmt.Sprintf("%s: %s was dropped: %s", e.Dir, name, e.Files[name])
	}
	return out
}

func (e *DroppedError) names() []string {
	var names []string
	for name := range e.Files {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// Is reports whether target is ErrDropped.
func (e *DroppedError) Is(target error) bool { return target == ErrDropped }

// dropped is the error for those of the files that were dropped; nil for none.
func (r *Run) dropped(names ...string) error {
	e := &DroppedError{Dir: r.Dir, Files: map[string]string{}}
	for _, name := range names {
		if d, ok := r.Meta.Dropped[name]; ok {
			e.Files[name] = d.Why
		}
	}
	if len(e.Files) == 0 {
		return nil
	}
	return e
}
