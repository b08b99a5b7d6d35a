package baseline

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"latchproof/harness/record"
)

// Baseline is a baseline read from its folder.
type Baseline struct {
	Dir  string
	Meta Meta
}

// Limits of what is read of a folder that may come from anywhere.
const (
	maxMeta    = 64 << 20  // bytes of baseline.json
	maxEntries = 2_000_000 // files and folders below it
)

// Open reads the baseline in dir and checks every file of it: that it is there,
// that it is what was accepted, and that there is nothing else but what a
// baseline may hold. Nothing outside the folder is read: a symbolic link in it
// is damage.
//
// Errors: ErrNotBaseline, ErrVersion, ErrDamaged (with record.ErrDamaged when it
// is a run), that of the context.
func Open(ctx context.Context, dir string) (*Baseline, error) {
	src, err := readMeta(filepath.Join(dir, FileName))
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("%s: %w: there is no %s", dir, ErrNotBaseline, FileName)
	case err != nil:
		return nil, fmt.Errorf("%s: %w", dir, err)
	}
	m, err := ParseMeta(src)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", dir, err)
	}
	b := &Baseline{Dir: dir, Meta: m}
	if err := b.walk(ctx); err != nil {
		return nil, err
	}
	if err := b.verify(ctx); err != nil {
		return nil, err
	}
	return b, nil
}

func readMeta(path string) ([]byte, error) {
	info, err := os.Lstat(path)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() || info.Size() > maxMeta {
		return nil, fmt.Errorf("%w: %s is no regular file of at most %d bytes", ErrDamaged, FileName, maxMeta)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, maxMeta))
}

// walk refuses what no baseline holds: links, devices, and anything that
// baseline.json does not speak of. What lies in the folder of a run is for the
// run's own record to say.
func (b *Baseline) walk(ctx context.Context) error {
	known := map[string]bool{".": true, FileName: true, specsFolder: true, runsFolder: true}
	runs := map[string]bool{}
	above := func(path string) {
		for ; path != "."; path = filepath.Dir(path) {
			known[path] = true
		}
	}
	for _, s := range b.Meta.Specs {
		for name := range s.Files {
			above(filepath.Join(specsFolder, s.Folder, filepath.FromSlash(name)))
		}
		for _, r := range s.Runs {
			path := filepath.Join(runsFolder, s.Folder, r.Folder)
			above(path)
			runs[path] = true
		}
	}
	root, err := filepath.EvalSymlinks(b.Dir) // the folder itself may be named by a link
	if err != nil {
		return fmt.Errorf("%s: %w", b.Dir, err)
	}
	n := 0
	return filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return b.damaged(path, err.Error())
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		if n++; n > maxEntries {
			return b.damaged(path, "more files than any baseline has")
		}
		rel, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		path = filepath.Join(b.Dir, rel)
		if !d.IsDir() && !d.Type().IsRegular() && rel != "." {
			return b.damaged(path, "is neither a regular file nor a folder")
		}
		if !known[rel] && !inRun(runs, rel) {
			return b.damaged(path, "does not belong to the baseline")
		}
		return nil
	})
}

func inRun(runs map[string]bool, rel string) bool {
	for at := filepath.Dir(rel); at != "."; at = filepath.Dir(at) {
		if runs[at] {
			return true
		}
	}
	return false
}

func (b *Baseline) damaged(path, what string) error {
	rel, err := filepath.Rel(b.Dir, path)
	if err != nil {
		rel = path
	}
	return fmt.Errorf("%s: %w: %s: %s", b.Dir, ErrDamaged, rel, what)
}

// verify holds every file against its hash.
func (b *Baseline) verify(ctx context.Context) error {
	for _, s := range b.Meta.Specs {
		for name, want := range s.Files {
			path := filepath.Join(b.SpecDir(s), filepath.FromSlash(name))
			if err := b.check(path, want, maxSpecFile); err != nil {
				return err
			}
		}
		for _, r := range s.Runs {
			if err := ctx.Err(); err != nil {
				return err
			}
			dir := b.RunDir(s, r)
			if err := b.check(filepath.Join(dir, record.RunFile), r.Sum, limits[record.RunFile]); err != nil {
				return err
			}
			run, err := OpenSealed(dir, true)
			if err != nil {
				return fmt.Errorf("%s: %w: %w", b.Dir, ErrDamaged, err)
			}
			if why := otherSpec(run.Record, s); why != "" {
				return b.damaged(dir, why)
			}
			if err := run.Fit(); err != nil {
				return b.damaged(dir, err.Error())
			}
			entries, err := os.ReadDir(dir)
			if err != nil {
				return b.damaged(dir, err.Error())
			}
			for _, e := range entries {
				if !belongs(run.Record, e) {
					return b.damaged(filepath.Join(dir, e.Name()), "was not sealed with the run")
				}
			}
		}
	}
	return nil
}

// belongs says whether an entry of a run's folder is one of its files, or a
// folder in which they lie.
func belongs(r *record.Run, e fs.DirEntry) bool {
	if e.Name() == record.RunFile {
		return true
	}
	if _, ok := r.Meta.Files[e.Name()]; ok {
		return true
	}
	for name := range r.Meta.Files {
		if e.IsDir() && strings.HasPrefix(name, e.Name()+"/") {
			return true
		}
	}
	return false
}

func (b *Baseline) check(path string, want record.Sum, most int64) error {
	info, err := os.Lstat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return b.damaged(path, "missing")
	case err != nil:
		return b.damaged(path, err.Error())
	case !info.Mode().IsRegular() || info.Size() > most:
		return b.damaged(path, fmt.Sprintf("is no regular file of at most %d bytes", most))
	case info.Size() != want.Bytes:
		return b.damaged(path, fmt.Sprintf("%d bytes long, was accepted with %d", info.Size(), want.Bytes))
	}
	src, err := os.ReadFile(path)
	if err != nil {
		return b.damaged(path, err.Error())
	}
	if sumOf(src) != want {
		return b.damaged(path, "hash differs")
	}
	return nil
}

// SpecDir is the folder of a spec's files.
func (b *Baseline) SpecDir(s Spec) string { return filepath.Join(b.Dir, specsFolder, s.Folder) }

// SpecFile is the path of a spec.
func (b *Baseline) SpecFile(s Spec) string { return filepath.Join(b.SpecDir(s), s.File) }

// RunDir is the folder of a run.
func (b *Baseline) RunDir(s Spec, r Run) string {
	return filepath.Join(b.Dir, runsFolder, s.Folder, r.Folder)
}

// Runs are the folders of a spec's runs; the first is the reference.
func (b *Baseline) Runs(s Spec) []string {
	out := make([]string, len(s.Runs))
	for i, r := range s.Runs {
		out[i] = b.RunDir(s, r)
	}
	return out
}
