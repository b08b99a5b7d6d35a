package harness

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"latchproof/harness/baseline"
	"latchproof/harness/checks"
	"latchproof/harness/lockstep"
	"latchproof/harness/record"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/specs/program"
)

// BaselineCheck holds runs of a candidate against a baseline; package baseline
// has the rules.
type BaselineCheck struct {
	Base    *baseline.Baseline
	Specs   []*Checked
	Options baseline.Options

	player *Player // nil: the candidate's runs are recorded ones
	result *BaselineResult
	err    error
}

// Checked is one spec of a baseline with the candidate's runs.
type Checked struct {
	Spec    *specs.Spec
	Entry   baseline.Spec
	Repeats int      // of the candidate
	Runs    []string // folders of the candidate's runs
	left    []string // runs of the candidate of which nothing can be told, and why
}

// RunFolders are the folders of a spec's runs in a session's folder, in the
// order of their numbers.
func RunFolders(session string, s *specs.Spec) ([]string, error) {
	dir := SpecFolder(session, s)
	entries, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s: the session has no runs of the spec %q", session, s.Name)
	}
	if err != nil {
		return nil, err
	}
	var names []string
	for _, e := range entries {
		if e.IsDir() && strings.HasPrefix(e.Name(), "run-") {
			names = append(names, e.Name())
		}
	}
	if len(names) == 0 {
		return nil, fmt.Errorf("%s holds no runs", dir)
	}
	slices.SortFunc(names, func(a, b string) int { return cmp.Or(cmp.Compare(len(a), len(b)), cmp.Compare(a, b)) })
	for i, n := range names {
		names[i] = filepath.Join(dir, n)
	}
	return names, nil
}

// OpenBaseline opens a baseline, with every file of it checked, and loads its
// specs. Errors: those of baseline.Open, and a specs.ErrorList.
func OpenBaseline(ctx context.Context, dir string) (*BaselineCheck, error) {
	base, err := baseline.Open(ctx, dir)
	if err != nil {
		return nil, err
	}
	c := &BaselineCheck{Base: base, Options: baseline.DefaultOptions()}
	for _, e := range base.Meta.Specs {
		s, err := specs.Load(base.SpecFile(e), checks.All)
		if err != nil {
			return nil, fmt.Errorf("a spec of the baseline is not sound:\n%w", err)
		}
		if s.Name != e.Name || s.Program.Hash() != e.Program {
			return nil, fmt.Errorf("%s: %w: %s: the spec is not the one that is named", dir, baseline.ErrDamaged, base.SpecFile(e))
		}
		c.Specs = append(c.Specs, &Checked{Spec: s, Entry: e, Repeats: len(e.Runs)})
	}
	return c, nil
}

// PlayOn has the candidate's runs played on a bench, as often as the baseline has
// runs of the spec, or as often as repeats says when it is not 0.
func (c *BaselineCheck) PlayOn(p *Player, repeats int) {
	c.player = p
	for _, s := range c.Specs {
		if repeats > 0 {
			s.Repeats = repeats
		}
	}
}

// Take takes the candidate's runs from the folder of a session.
func (c *BaselineCheck) Take(session string) (err error) {
	for _, s := range c.Specs {
		if s.Runs, err = RunFolders(session, s.Spec); err != nil {
			return err
		}
		s.Repeats = len(s.Runs)
	}
	return nil
}

// Play plays all of the candidate's runs, for those who want no tree of tests. A
// run that fails is left out; the error is that of the context.
func (c *BaselineCheck) Play(ctx context.Context) error {
	for _, s := range c.Specs {
		for n := 1; n <= s.Repeats; n++ {
			if err := c.play(ctx, s, n); err != nil && ctx.Err() != nil {
				return err
			}
		}
	}
	return nil
}

// play plays repeat n of a spec on the candidate. A run that fails is left out,
// and the error is given all the same.
func (c *BaselineCheck) play(ctx context.Context, s *Checked, n int) error {
	run, err := c.player.Play(ctx, s.Spec, n, s.Repeats)
	if err != nil {
		s.left = append(s.left, fmt.Sprintf("candidate %s: %s", runName(n), oneLine(err)))
		return err
	}
	s.Runs = append(s.Runs, run.Dir)
	return run.Close()
}

// Result compares and judges, once. Errors: that the candidate's runs are of other
// specs or of several benches, those of a damaged run, of the context.
func (c *BaselineCheck) Result(ctx context.Context) (*BaselineResult, error) {
	if c.result == nil && c.err == nil {
		c.result, c.err = c.compare(ctx)
	}
	return c.result, c.err
}

func (c *BaselineCheck) compare(ctx context.Context) (*BaselineResult, error) {
	out := &BaselineResult{Baseline: c.Base.Dir}
	var evidence []baseline.Evidence
	var first *record.Run
	for _, s := range c.Specs {
		r, e, rec, err := c.hold(ctx, s, first)
		if err != nil {
			return nil, err
		}
		if first == nil {
			first = rec
		}
		out.Specs = append(out.Specs, r)
		evidence = append(evidence, e)
	}
	v, err := baseline.Judge(evidence, c.Options)
	if err != nil {
		return nil, err
	}
	out.take(v)
	for i := range out.Specs {
		out.Specs[i].evidence = evidence[i]
	}
	if first != nil {
		if out.bench, err = RecordedBench(first); err != nil {
			return nil, err
		}
		if out.Differs, err = benchesDiffer(c.Base.Meta, out.bench, first.Meta.Board); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// hold holds all runs of a spec against the reference. first is a run of the
// candidate's bench, nil when there was none so far; one is given back.
func (c *BaselineCheck) hold(ctx context.Context, s *Checked, first *record.Run) (r CheckedSpec, e baseline.Evidence, bench *record.Run, err error) {
	h := &holding{
		tree: lockstep.NewTree(Naming(s.Spec.Console, s.Spec.Program)), byName: map[string]*baseline.Side{},
	}
	defer func() { err = errors.Join(err, h.close()) }()
	e.Name = s.Entry.Name
	for _, dir := range c.Base.Runs(s.Entry) {
		if _, err := h.add(ctx, &e.Baseline, "baseline "+filepath.Base(dir), dir); err != nil {
			return r, e, first, err
		}
	}
	h.left = append(h.left, s.left...)
	e.Candidate.Left += int64(len(s.left))
	for _, dir := range s.Runs {
		rec, err := h.add(ctx, &e.Candidate, "candidate "+filepath.Base(dir), dir)
		if err != nil {
			return r, e, first, err
		}
		if rec == nil {
			continue
		}
		if rec.Meta.Spec.SHA256 != s.Entry.Hash || rec.Meta.Program.Hash != s.Entry.Program {
			return r, e, first, fmt.Errorf("%s: it was played from another text of the spec %q, or another program, than the baseline", dir, s.Entry.Name)
		}
		if first == nil {
			first = rec
		}
		if err := baseline.SameBench(first, rec); err != nil {
			return r, e, first, err
		}
	}
	r = h.told(s.Spec.Program)
	r.Name = s.Entry.Name
	return r, e, first, nil
}

// holding is a comparison under way.
type holding struct {
	tree      *lockstep.Tree
	byName    map[string]*baseline.Side
	open      []*Traced
	left      []string
	warnings  []string
	reference console.Frame // that of the reference's last read; its video goes on a little
}

// add adds a run to a side; its record is nil when the run is left out.
func (h *holding) add(ctx context.Context, side *baseline.Side, name, dir string) (*record.Run, error) {
	leave := func(rec *record.Run, why error) (*record.Run, error) {
		h.left = append(h.left, fmt.Sprintf("%s: %s", name, oneLine(why)))
		side.Left++
		return rec, nil
	}
	sealed, err := baseline.OpenSealed(dir, false)
	if errors.Is(err, record.ErrPartial) {
		return leave(nil, err)
	}
	if err != nil {
		return nil, err
	}
	rec := sealed.Record
	if err := sealed.Fit(); err != nil {
		return leave(rec, err)
	}
	t, err := OpenTraced(ctx, dir)
	if err != nil {
		return nil, err
	}
	h.open = append(h.open, t)
	t.Run.Name = name
	families := h.tree.Families()
	if err := h.tree.Add(t.Run); errors.Is(err, lockstep.ErrUnseen) && families > 0 {
		return leave(rec, err)
	} else if err != nil {
		return nil, fmt.Errorf("%s: %w", dir, err)
	}
	if t.Warning != "" {
		h.warnings = append(h.warnings, t.Warning)
	}
	if families == 0 {
		h.reference = console.Frame(t.Clock.LastFrame)
	} else {
		h.byName[name] = side
		if h.tree.Families() == families { // no later run is held against it
			h.open = h.open[:len(h.open)-1]
			if err := t.Close(); err != nil {
				return nil, err
			}
		}
	}
	numbers, err := baseline.NumbersOf(rec)
	if err != nil {
		return nil, err
	}
	side.Numbers = append(side.Numbers, numbers)
	switch c := sealed.Checkpoints; {
	case c.Asked == 0:
	case len(c.Failed) > 0:
		side.Failed++
	case len(c.Unseen) > 0:
		side.Unseen++
	default:
		side.Held++
	}
	return rec, nil
}

func (h *holding) close() error {
	var errs []error
	for _, t := range h.open {
		errs = append(errs, t.Close())
	}
	return errors.Join(errs...)
}

// whole is the share of the reference's frames up to which a run must be seen to
// agree so that it is not cut short.
const whole = 0.95

// told turns what the tree found into lifetimes of both sides, and says where the
// candidate first parts.
func (h *holding) told(p *program.Program) CheckedSpec {
	res := h.tree.Result()
	r := CheckedSpec{Left: h.left, Warnings: append(h.warnings, res.Warnings...), Frames: int64(h.reference) + 1}
	for _, l := range res.Lives {
		side := h.byName[l.Run]
		life := baseline.Life{Frame: float64(max(l.Frame, 0))}
		switch d := l.Parted; {
		case SurelyParted(l, nil):
			life.Parted = true
		case d != nil:
			life.Cut = true
			r.Left = append(r.Left, fmt.Sprintf("%s: from frame %d on nothing can be told: %s", l.Run, d.Frame, cmp.Or(Doubtful(d), d.Why)))
		default:
			life.Cut = float64(l.Frame+1) < whole*float64(h.reference+1)
		}
		side.Lives = append(side.Lives, life)
		if d := l.Parted; life.Parted && strings.HasPrefix(l.Run, "candidate ") && (r.Parts == nil || int64(d.Frame) < r.Parts.Frame) {
			r.Parts = &CheckedParting{
				Run: l.Run, Frame: int64(d.Frame), Since: int64(d.Since), Read: int64(d.Read),
				Kind: string(d.Kind), Part: string(d.Part), Region: rectangle(d.Region), Why: d.Why,
			}
			if p != nil && d.Read >= 0 {
				r.Parts.Line = p.LineAt(d.Read)
			}
		}
	}
	return r
}
