package baseline

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"latchproof/harness/durable"
	"latchproof/harness/record"
	"latchproof/specs"
)

// MinRuns is how many runs a spec needs in a baseline: the first is the
// reference and nothing can be said of a rate by it alone. MaxRuns is the most.
const (
	MinRuns = 2
	MaxRuns = specs.MaxRepeats
)

// Input is one spec with the folders of its sealed runs, in their order.
type Input struct {
	Spec *specs.Spec
	Runs []string
}

// AcceptOptions change what is accepted.
type AcceptOptions struct {
	Replace bool // put it in the place of an existing baseline
	Anyway  bool // accept runs with checkpoints that fail or are unseen
	Videos  bool // keep the video of every run, not only of the references
	// Versions are those of the programs that took part, by name; Now is when
	// it is accepted.
	Versions map[string]string
	Now      time.Time
}

// Accept makes the folder dir a baseline of the runs. It is written beside dir,
// brought to the disk and renamed, so that dir holds the whole baseline or what
// it held before.
//
// Errors: ErrExists, ErrNotBaseline (something else is to be replaced),
// ErrUnfit with every reason, those of the file system.
func Accept(ctx context.Context, dir string, in []Input, o AcceptOptions) (m Meta, err error) {
	dir = filepath.Clean(dir)
	if err := free(dir, o.Replace); err != nil {
		return m, err
	}
	m, runs, err := look(ctx, in, o)
	if err != nil {
		return m, err
	}
	if err := os.MkdirAll(filepath.Dir(dir), 0o777); err != nil {
		return m, err
	}
	temp := filepath.Join(filepath.Dir(dir), fmt.Sprintf(".%s.part-%016x", filepath.Base(dir), rand.Uint64()))
	if err := os.Mkdir(temp, 0o777); err != nil {
		return m, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.RemoveAll(temp))
		}
	}()
	for i := range in {
		if err := copySpec(temp, in[i].Spec, &m.Specs[i]); err != nil {
			return m, err
		}
		for k, from := range runs[i] {
			if err := ctx.Err(); err != nil {
				return m, err
			}
			to := filepath.Join(temp, runsFolder, m.Specs[i].Folder, m.Specs[i].Runs[k].Folder)
			sum, err := takeRun(from, to, o.Videos || k == 0)
			if err != nil {
				return m, err
			}
			m.Specs[i].Runs[k].Sum = sum
		}
	}
	src, err := FormatMeta(m)
	if err != nil {
		return m, err
	}
	if _, err := ParseMeta(src); err != nil {
		return m, fmt.Errorf("%w: what would be written cannot be read again: %w", ErrUnfit, err)
	}
	if err := durable.WriteNew(filepath.Join(temp, FileName), src); err != nil {
		return m, err
	}
	if err := syncFolders(temp); err != nil {
		return m, err
	}
	return m, put(temp, dir, o.Replace)
}

// free says whether a baseline may be put at dir.
func free(dir string, replace bool) error {
	entries, err := os.ReadDir(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return err
	case len(entries) == 0:
		return nil
	case !replace:
		return fmt.Errorf("%s %w; a baseline is never overwritten unless that is asked for", dir, ErrExists)
	}
	if info, err := os.Lstat(filepath.Join(dir, FileName)); err != nil || !info.Mode().IsRegular() {
		return fmt.Errorf("%s: %w, so it is not replaced", dir, ErrNotBaseline)
	}
	return nil
}

// look checks all runs and prepares the description. The reasons against them
// are given all at once.
func look(ctx context.Context, in []Input, o AcceptOptions) (Meta, [][]*Sealed, error) {
	m := Meta{Format: FormatVersion, Accepted: o.Now.UTC().Truncate(time.Second), Versions: o.Versions}
	if len(in) == 0 {
		return m, nil, fmt.Errorf("%w: no spec is named", ErrUnfit)
	}
	var against []string
	add := func(format string, args ...any) { against = append(against, fmt.Sprintf(format, args...)) }
	all := make([][]*Sealed, len(in))
	var first *Sealed
	folders := map[string]string{}
	for i, x := range in {
		s := x.Spec
		folder := FolderName(s.Name)
		if other, ok := folders[strings.ToLower(folder)]; ok {
			add("the specs %q and %q would share the folder %s", other, s.Name, folder)
		}
		folders[strings.ToLower(folder)] = s.Name
		spec := Spec{Name: s.Name, Folder: folder, File: filepath.Base(s.File), Hash: s.Hash(), Program: s.Program.Hash()}
		if len(x.Runs) < MinRuns || len(x.Runs) > MaxRuns {
			add("%s: %d runs; %d to %d are needed", s.Name, len(x.Runs), MinRuns, MaxRuns)
		}
		for k, dir := range x.Runs {
			if err := ctx.Err(); err != nil {
				return m, nil, err
			}
			run, err := OpenSealed(dir, true)
			if err != nil {
				add("%v", err)
				continue
			}
			if err := run.Fit(); err != nil {
				add("%s: %v", dir, err)
			}
			if why := otherSpec(run.Record, spec); why != "" {
				add("%s: %s", dir, why)
			}
			for _, c := range run.Checkpoints.Failed {
				m.Anyway = append(m.Anyway, fmt.Sprintf("%s: the checkpoint %q failed", dir, c))
			}
			for _, c := range run.Checkpoints.Unseen {
				m.Anyway = append(m.Anyway, fmt.Sprintf("%s: the checkpoint %q is unseen", dir, c))
			}
			if first == nil {
				first = run
			} else if err := SameBench(first.Record, run.Record); err != nil {
				add("%v", err)
			}
			all[i] = append(all[i], run)
			spec.Runs = append(spec.Runs, Run{Folder: fmt.Sprintf("run-%03d", k+1)})
		}
		m.Specs = append(m.Specs, spec)
	}
	if !o.Anyway {
		against = append(against, m.Anyway...)
	}
	if len(against) > 0 {
		return m, nil, fmt.Errorf("%w:\n%s", ErrUnfit, strings.Join(against, "\n"))
	}
	m.Bench, m.Board = first.Record.Meta.Bench, first.Record.Meta.Board
	return m, all, nil
}

// otherSpec says in which way a run was played from other files; empty when it
// was not.
func otherSpec(r *record.Run, s Spec) string {
	switch {
	case r.Meta.Program.Hash != s.Program:
		return fmt.Sprintf("it was played from another program than that of %q", s.Name)
	case r.Meta.Spec.SHA256 != s.Hash:
		return fmt.Sprintf("it was played from another text of the spec %q", s.Name)
	}
	return ""
}

// FolderName makes a folder's name of a spec's name: letters, digits, '.', '_'
// and '-' stay, the rest become '-'.
func FolderName(name string) string {
	out := strings.Map(func(r rune) rune {
		if r < 128 && plainName("x"+string(r)) {
			return r
		}
		return '-'
	}, name)
	if out == "" {
		return "spec"
	}
	if out[0] == '.' {
		out = "-" + out[1:]
	}
	return out[:min(len(out), 80)]
}

// copySpec copies a spec and all files that it names, and notes their hashes.
func copySpec(temp string, s *specs.Spec, out *Spec) error {
	out.Files = map[string]record.Sum{}
	dir := filepath.Join(temp, specsFolder, out.Folder)
	put := func(name string, src []byte) error {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			return err
		}
		out.Files[name] = sumOf(src)
		return durable.WriteNew(path, src)
	}
	if slices.Contains(s.Files(), out.File) {
		return fmt.Errorf("%s: the spec names itself among its files", s.File)
	}
	if err := put(out.File, s.Source); err != nil {
		return err
	}
	for _, name := range s.Files() {
		src, err := specs.Folder{Dir: s.Dir}.Read(name, maxSpecFile)
		if err != nil {
			return fmt.Errorf("%s: %s: %w", s.File, name, err)
		}
		if err := put(name, src); err != nil {
			return err
		}
	}
	return nil
}

// maxSpecFile is how large a file that a spec names may be, bytes.
const maxSpecFile = 64 << 20
