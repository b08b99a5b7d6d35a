package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"latchproof/harness"
	"latchproof/harness/checks"
	"latchproof/harness/clock"
	"latchproof/harness/judge"
	"latchproof/harness/look"
	"latchproof/harness/look/draft"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/specs/program"
)

// drafting is the flags of the command.
type drafting struct {
	program, out string
	force        bool
}

func (a *app) draftCommand() *cobra.Command {
	var f drafting
	c := &cobra.Command{
		Use:   "draft RUN --program PROGRAM",
		Short: "Write a first spec from a run",
		Long: strings.TrimSpace(`
Writes a spec that the run passes, with a checkpoint for each mark of the program
(for the largest changes of scene when it has none): a template is cut from each
of these frames, one that stands out, is found at one place only, and is unlike
the screens of the other marks. The comments say why each was chosen. It is a
beginning to edit: it cannot know what matters in the game.

The spec is written beside the program, or to --out, and the templates beside the
spec. It is checked and judged on the run before anything is written. Files that
are there already are never replaced, unless --force is given.

Exit status 3: the run's frames cannot be trusted, or nothing on it can be told
apart.`),
		Example: "  latchproof draft runs/walk/run-001 --program walk.prog",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if f.program == "" {
				return usageError{errors.New("latchproof draft: --program is needed")}
			}
			return a.draft(cmd.Context(), args[0], f)
		},
	}
	c.Flags().StringVar(&f.program, "program", "", "button program that was played (needed)")
	c.Flags().StringVar(&f.out, "out", "", "spec file to write (default beside the program, NAME.spec.yaml)")
	c.Flags().BoolVar(&f.force, "force", false, "replace files that are there already")
	return c
}

func (a *app) draft(ctx context.Context, dir string, f drafting) error {
	if f.out == "" {
		f.out = strings.TrimSuffix(f.program, filepath.Ext(f.program)) + ".spec.yaml"
	}
	r, err := openLook(dir)
	if err != nil {
		return err
	}
	o, err := draftOptions(r, f)
	if err != nil {
		return err
	}
	t, err := harness.OpenTraced(ctx, dir)
	if err != nil {
		return err
	}
	defer t.Close()
	p := a.progress()
	p.Stage("draft", 1, 1, "looking", 0)
	d, err := draft.Propose(ctx, r, t.Trace, o)
	p.clear()
	if errors.Is(err, draft.ErrNothing) {
		fmt.Fprintf(a.err, "latchproof: %s: %v\n", dir, err)
		return verdict(codeNothing)
	}
	if err != nil {
		return err
	}
	files, err := a.tryDraft(ctx, dir, d, f)
	if err != nil {
		return err
	}
	if err := install(filepath.Dir(f.out), files, f.force); err != nil {
		return err
	}
	return a.drafted(d, f, files)
}

// draftOptions checks the program against the run, and the names.
func draftOptions(r *look.Run, f drafting) (draft.Options, error) {
	o := draft.Options{Start: specs.StartReset, From: "the run " + filepath.Base(filepath.Clean(r.Record.Dir))}
	if r.Record.Meta.Start == specs.StartPower {
		o.Start = specs.StartPower
	}
	src, err := readSmall(f.program)
	if err != nil {
		return o, err
	}
	if o.Program, err = program.Parse(f.program, src, r.Console(), program.DefaultLimits); err != nil {
		return o, err
	}
	if played := r.Record.Meta.Program.Hash; played != "" && played != o.Program.Hash() {
		return o, usageError{fmt.Errorf("%s is not the program that the run was played with (%s): their hashes differ", f.program, r.Record.Meta.Program.File)}
	}
	folder, err := filepath.Abs(filepath.Dir(f.out))
	if err != nil {
		return o, err
	}
	file, err := filepath.Abs(f.program)
	if err != nil {
		return o, err
	}
	below, err := filepath.Rel(folder, file)
	if err != nil || !filepath.IsLocal(below) {
		return o, usageError{fmt.Errorf("a spec names files in its own folder only, and %s is not in %s: copy it there, or write the spec beside it", f.program, filepath.Dir(f.out))}
	}
	o.ProgramFile = filepath.ToSlash(below)
	o.Name, o.Prefix = draftNames(f.out)
	o.Console = r.Console().Name
	if p, ok := console.Builtin(o.Console); !ok || p.Width != r.Console().Width || p.Height != r.Console().Height || p.Rate != r.Console().Rate {
		o.Console = o.Prefix + "-console.yaml"
	}
	return o, nil
}

var (
	unfit   = regexp.MustCompile(`[^\p{L}\p{N}_-]+`)
	dashes  = regexp.MustCompile(`^-+|-+$`)
	endings = []string{".yaml", ".yml", ".spec"}
)

// draftNames makes the spec's name and the prefix of its files out of its file's
// name.
func draftNames(out string) (name, prefix string) {
	base := filepath.Base(out)
	for _, e := range endings {
		base = strings.TrimSuffix(base, e)
	}
	base = unfit.ReplaceAllString(strings.ToValidUTF8(base, ""), "-")
	if r := []rune(dashes.ReplaceAllString(base, "")); len(r) > 40 {
		base = string(r[:40])
	} else {
		base = string(r)
	}
	if base == "" {
		base = "draft"
	}
	return base, base
}

// draftFiles are the files of a draft by their names in the spec's folder.
func draftFiles(r *draft.Draft, profile console.Profile, out string) (map[string][]byte, error) {
	files, err := r.Templates()
	if err != nil {
		return nil, err
	}
	if _, ok := console.Builtin(r.Console); !ok {
		files[r.Console] = profile.Format()
	}
	files[filepath.Base(out)] = r.Source()
	return files, nil
}

// tryDraft writes the draft into a folder of its own, lints it and judges the run
// by it, and drops the checkpoints that do not pass, until all do.
func (a *app) tryDraft(ctx context.Context, dir string, d *draft.Draft, f drafting) (map[string][]byte, error) {
	src, err := readSmall(f.program)
	if err != nil {
		return nil, err
	}
	r, err := openLook(dir)
	if err != nil {
		return nil, err
	}
	for {
		files, err := draftFiles(d, r.Console(), f.out)
		if err != nil {
			return nil, err
		}
		run, err := judgeDraft(ctx, dir, d, f, src, files)
		if err != nil {
			return nil, err
		}
		if d.Anchor != nil && run.Clock.State == clock.Untrusted {
			d.DropAnchor("tried, and with it the frame clock of this very run is not trusted: " + run.Clock.Why)
			continue
		}
		dropped := false
		for _, res := range run.Results {
			if res.Verdict != judge.Pass {
				dropped = true
				d.Drop(res.Name, fmt.Sprintf("tried, and it was %s in this very run: %s", res.Verdict, res.Why))
			}
		}
		for _, text := range run.Problems {
			if d.Anchor != nil && strings.Contains(text, "anchor") {
				dropped = true
				d.DropAnchor(text)
			}
		}
		if !dropped {
			return files, nil
		}
		if len(d.Items) == 0 {
			fmt.Fprintf(a.err, "latchproof: %s: no checkpoint passes in this very run:\n  %s\n", dir, strings.Join(d.Left, "\n  "))
			return nil, verdict(codeNothing)
		}
	}
}

func judgeDraft(ctx context.Context, dir string, d *draft.Draft, f drafting, src []byte, files map[string][]byte) (_ *harness.Run, err error) {
	folder, err := os.MkdirTemp("", "latchproof-draft-")
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(folder)) }()
	prog := filepath.Join(folder, filepath.FromSlash(d.ProgramFile))
	if err := os.MkdirAll(filepath.Dir(prog), 0o777); err != nil {
		return nil, err
	}
	if err := os.WriteFile(prog, src, 0o666); err != nil {
		return nil, err
	}
	if err := install(folder, files, false); err != nil {
		return nil, err
	}
	s, err := specs.Load(filepath.Join(folder, filepath.Base(f.out)), checks.All)
	if err != nil {
		return nil, fmt.Errorf("the draft is not sound, which is a mistake of this program:\n%w", err)
	}
	run, err := harness.JudgeRecorded(ctx, dir, s, false, nil)
	if err != nil {
		return nil, err
	}
	return run, run.Close()
}

// install writes files into a folder: all of them, or none when one is there
// already and may not be replaced.
func install(folder string, files map[string][]byte, force bool) error {
	var names, there []string
	for name := range files {
		names = append(names, name)
		if _, err := os.Lstat(filepath.Join(folder, name)); err == nil {
			there = append(there, filepath.Join(folder, name))
		}
	}
	slices.Sort(names)
	slices.Sort(there)
	if n := len(there); n > 0 && !force {
		what := strings.Join(there[:min(n, 3)], ", ")
		if n > 3 {
			what += fmt.Sprintf(" and %d more", n-3)
		}
		return usageError{fmt.Errorf("there already, so nothing was written: %s; name another file with --out, or replace with --force", what)}
	}
	flags := os.O_WRONLY | os.O_CREATE | os.O_EXCL
	if force {
		flags = os.O_WRONLY | os.O_CREATE | os.O_TRUNC
	}
	for _, name := range names {
		file, err := os.OpenFile(filepath.Join(folder, name), flags, 0o666)
		if err != nil {
			return plain(err)
		}
		_, err = file.Write(files[name])
		if err := errors.Join(err, file.Close()); err != nil {
			return err
		}
	}
	return nil
}

func (a *app) drafted(d *draft.Draft, f drafting, files map[string][]byte) error {
	type item struct {
		Name  string        `json:"name"`
		At    string        `json:"at"`
		Frame console.Frame `json:"frame"`
	}
	items := []item{}
	for _, i := range d.Items {
		items = append(items, item{i.Name, i.At.String(), i.Frame})
	}
	if a.json {
		var anchor any
		if d.Anchor != nil {
			anchor = d.Anchor.Frame
		}
		var names []string
		for name := range files {
			names = append(names, filepath.Join(filepath.Dir(f.out), name))
		}
		slices.Sort(names)
		return a.printJSON(map[string]any{"spec": f.out, "files": names, "anchor": anchor, "checkpoints": items, "left_out": notNil(d.Left)})
	}
	fmt.Fprintf(a.out, "%s: %d checkpoints", f.out, len(items))
	if d.Anchor != nil {
		fmt.Fprintf(a.out, " and an anchor on frame %d", d.Anchor.Frame)
	}
	fmt.Fprintf(a.out, "; the run passes it\n")
	for _, text := range d.Left {
		fmt.Fprintf(a.out, "  left out: %s\n", text)
	}
	fmt.Fprintf(a.out, "next: read its comments, keep what matters, and `latchproof play %s`\n", f.out)
	return nil
}
