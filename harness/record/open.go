package record

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"

	"latchproof/harness/durable"
	"latchproof/harness/feeder"
)

// Run is a run read from its folder.
type Run struct {
	Dir  string
	Meta Meta
}

// Open reads the run in dir and checks every file against its hash.
//
// Errors: ErrNotRun, ErrVersion, ErrDamaged with every damaged file, and
// ErrPartial when the run was never sealed; with ErrPartial the run is given
// all the same, for whoever wants to see what there is. A partial run has no
// hashes, so its files are not checked. Files that were dropped are known to be
// absent and no damage.
func Open(dir string) (*Run, error) { return open(dir, nil, true) }

// OpenFiles is Open, but only the named files are checked: comparing many runs
// need not hash every capture. A file named must have been sealed; ErrDropped says
// that it was, and was dropped since.
func OpenFiles(dir string, names ...string) (*Run, error) { return open(dir, names, false) }

// Verify is Open for those who want nothing but the answer.
func Verify(dir string) error {
	_, err := Open(dir)
	return err
}

func open(dir string, names []string, all bool) (*Run, error) {
	file := filepath.Join(dir, RunFile)
	src, err := os.ReadFile(file)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, noRunFile(dir)
	}
	if err != nil {
		return nil, err
	}
	m, err := ParseMeta(file, src)
	if err != nil {
		if errors.Is(err, ErrVersion) || errors.Is(err, ErrDamaged) {
			return nil, err
		}
		return nil, fmt.Errorf("%w\n%w", &DamagedError{dir, []Problem{{RunFile, "not readable"}}}, err)
	}
	r := &Run{Dir: dir, Meta: m}
	if m.State != Sealed {
		return r, r.partial()
	}
	if all {
		names = slices.Collect(maps.Keys(m.Files))
		// A file that this package reads by name must have been sealed.
		for _, name := range []string{SpecFile, ProgramFile, CaptureFile, FramesFile, ReadsFile, SyncsFile, ServiceFile, VerdictsFile, TraceFile} {
			if _, ok := m.Files[name]; ok || r.dropped(name) != nil {
				continue // a drop that was killed leaves the file
			}
			if _, err := os.Lstat(r.Path(name)); err == nil {
				names = append(names, name)
			}
		}
	}
	damaged := &DamagedError{Dir: dir}
	slices.Sort(names)
	for _, name := range names {
		if r.dropped(name) != nil {
			continue
		}
		if what := r.check(name); what != "" {
			damaged.Problems = append(damaged.Problems, Problem{name, what})
		}
	}
	if len(damaged.Problems) > 0 {
		return nil, damaged
	}
	if err := r.dropped(names...); err != nil {
		return nil, err
	}
	return r, nil
}

// noRunFile tells a folder that a killed Create left from one that never was a
// run.
func noRunFile(dir string) error {
	inside, err := os.ReadDir(dir)
	if err != nil {
		return fmt.Errorf("%s: %w: %w", dir, ErrNotRun, err)
	}
	if len(inside) == 0 || len(inside) == 1 && inside[0].Name() == tempName {
		return &PartialError{Dir: dir, Where: "before the run began", Why: "run.json was never written", LastLatch: -1}
	}
	return fmt.Errorf("%s: %w: there is no %s", dir, ErrNotRun, RunFile)
}

// Check compares one file of a sealed run with its hash. The error is a
// *DamagedError, or a *DroppedError when the file was dropped.
func (r *Run) Check(name string) error {
	if err := r.dropped(name); err != nil {
		return err
	}
	if what := r.check(name); what != "" {
		return &DamagedError{Dir: r.Dir, Problems: []Problem{{name, what}}}
	}
	return nil
}

// check compares one file with its hash; empty when it is right.
func (r *Run) check(name string) string {
	want, ok := r.Meta.Files[name]
	if !ok {
		return "was not sealed with the run"
	}
	got, err := sumFile(r.Path(name), false)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return "missing"
	case err != nil:
		return err.Error()
	case got.Bytes != want.Bytes:
		return fmt.Sprintf("%d bytes long, was sealed with %d", got.Bytes, want.Bytes)
	case got.SHA256 != want.SHA256:
		return "hash differs"
	}
	return ""
}

// partial says where an unsealed run stopped, as far as its files tell.
func (r *Run) partial() *PartialError {
	e := &PartialError{Dir: r.Dir, LastLatch: -1, Where: "before the first read", Why: "the writer was stopped"}
	if latches, err := r.Reads(); err == nil && len(latches) > 0 {
		last := latches[len(latches)-1]
		e.LastLatch, e.LastMicros = last.Index, last.Micros
		e.Where = fmt.Sprintf("after latch %d at %d us", last.Index, last.Micros)
	} else if err != nil && !errors.Is(err, fs.ErrNotExist) {
		e.Why += "; its read log cannot be read: " + err.Error()
	}
	if s := r.Meta.Stopped; s != nil {
		e.Where, e.Why = s.Where, s.Why
	}
	return e
}

// Path is where the file of that name lies.
func (r *Run) Path(name string) string { return filepath.Join(r.Dir, name) }

// Has says whether the run has a file of that name.
func (r *Run) Has(name string) bool {
	if r.dropped(name) != nil {
		return false
	}
	if r.Meta.State == Sealed {
		_, ok := r.Meta.Files[name]
		return ok
	}
	_, err := os.Stat(r.Path(name))
	return err == nil
}

// ReadFile reads a whole file of the run. The bytes of a sealed run are checked
// against their hash: ErrDamaged. A file that was dropped is ErrDropped.
func (r *Run) ReadFile(name string) ([]byte, error) {
	if err := r.dropped(name); err != nil {
		return nil, err
	}
	src, err := os.ReadFile(r.Path(name))
	if err != nil {
		return nil, err
	}
	if r.Meta.State == Sealed {
		want, ok := r.Meta.Files[name]
		if !ok {
			return nil, &DamagedError{r.Dir, []Problem{{name, "was not sealed with the run"}}}
		}
		if durable.Sum(src) != want.SHA256 {
			return nil, &DamagedError{r.Dir, []Problem{{name, "hash differs"}}}
		}
	}
	return src, nil
}

// Reads reads reads.csv. In an unsealed run a last row without its line end
// was cut off, and is left out.
func (r *Run) Reads() ([]feeder.Latch, error) {
	src, err := r.ReadFile(ReadsFile)
	if err != nil {
		return nil, err
	}
	if r.Meta.State != Sealed {
		src = src[:bytes.LastIndexByte(src, '\n')+1]
		// So was the latch after the row of a gap.
		if last := src[bytes.LastIndexByte(bytes.TrimSuffix(src, []byte{'\n'}), '\n')+1:]; bytes.Contains(last, []byte(","+lostWord+",")) {
			src = src[:len(src)-len(last)]
		}
		if len(src) == 0 {
			return nil, nil
		}
	}
	return ParseReads(r.Path(ReadsFile), src)
}

// Frames reads frames.csv.
func (r *Run) Frames() ([]FrameRow, error) {
	src, err := r.ReadFile(FramesFile)
	if err != nil {
		return nil, err
	}
	return ParseFrames(r.Path(FramesFile), src)
}

// Syncs reads syncs.csv.
func (r *Run) Syncs() ([]feeder.Sync, error) {
	src, err := r.ReadFile(SyncsFile)
	if err != nil {
		return nil, err
	}
	return ParseSyncs(r.Path(SyncsFile), src)
}
