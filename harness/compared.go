package harness

import (
	"context"
	"errors"
	"fmt"

	"latchproof/harness/clock"
	"latchproof/harness/lockstep"
	"latchproof/harness/record"
	"latchproof/reports"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/specs/program"
)

// Comparison compares sealed runs with one another. It holds the traces and
// reads of one run of every family and of the run that is added, no more.
type Comparison struct {
	Program *program.Program // of the first run; nil when it has none

	tree     *lockstep.Tree
	profile  console.Profile
	first    *record.Run
	runs     []*compared
	assumed  []string
	warnings []string
}

// compared is a run that was added.
type compared struct {
	dir    string
	clock  clock.Summary
	traced *Traced // nil once the run has joined a family whole
}

// Add compares one more run, named by its folder. Errors: those of OpenTraced
// and of lockstep.Tree.Add.
func (c *Comparison) Add(ctx context.Context, dir string) error {
	t, err := OpenTraced(ctx, dir)
	if err != nil {
		return err
	}
	if c.tree == nil {
		c.first, c.profile = t.Record, t.Record.Meta.Console.Profile()
		c.Program = recordedProgram(t.Record, c.profile)
		c.tree = lockstep.NewTree(Naming(c.profile, c.Program))
	}
	families := c.tree.Families()
	if err := c.tree.Add(t.Run); err != nil {
		return errors.Join(fmt.Errorf("%s: %w", dir, err), t.Close())
	}
	if t.Clock.State == clock.Assumed {
		c.assumed = append(c.assumed, dir)
	}
	if t.Warning != "" {
		c.warnings = append(c.warnings, t.Warning)
	}
	run := &compared{dir: dir, clock: t.Clock, traced: t}
	c.runs = append(c.runs, run)
	if c.tree.Families() == families { // no later run is held against it
		run.traced = nil
		return t.Close()
	}
	return nil
}

// recordedProgram is the run's own copy of its program, or nil when it has none
// (an imported video).
func recordedProgram(rec *record.Run, profile console.Profile) *program.Program {
	src, err := rec.ReadFile(record.ProgramFile)
	if err != nil || len(src) == 0 {
		return nil
	}
	p, err := program.Parse(rec.Meta.Program.File, src, profile, program.DefaultLimits)
	if err != nil {
		return nil
	}
	return p
}

// Close removes what was made for the comparison.
func (c *Comparison) Close() error {
	var errs []error
	for _, r := range c.runs {
		if r.traced != nil {
			errs = append(errs, r.traced.Close())
		}
	}
	return errors.Join(errs...)
}

// Result is what was found so far, with a warning for everything that makes it
// less certain.
func (c *Comparison) Result() lockstep.Result {
	res := c.tree.Result()
	res.Warnings = append(res.Warnings, c.warnings...)
	if len(c.assumed) > 0 {
		res.Warnings = append(res.Warnings, assumedWarning(c.assumed))
	}
	return res
}

// Doubt says why nothing can be said although the runs seem to part; empty when
// they do part, or do not.
func (c *Comparison) Doubt() string {
	res := c.tree.Result()
	switch {
	case res.Lockstep():
		return ""
	case len(c.assumed) > 0:
		return assumedWarning(c.assumed)
	}
	for _, f := range res.Families {
		if f.Parted != nil && Doubtful(f.Parted) == "" {
			return ""
		}
	}
	return Doubtful(res.Divergence)
}

// Report gathers what was found for a report. The pictures of the frames around
// those on which families part are decoded from the videos for it; a video that
// cannot be read leaves its pictures out and says so.
func (c *Comparison) Report(ctx context.Context, version string) (reports.Session, error) {
	sp := &specs.Spec{
		Name: "comparison", About: "Sealed runs compared by their traces and read logs.", Console: c.profile, Program: c.Program,
		Dir: c.first.Dir, ProgramFile: record.ProgramFile, Repeats: len(c.runs),
	}
	cs := newCase(sp, len(c.runs))
	cs.tree, cs.assumed = c.tree, c.assumed
	cs.left = append(cs.left, c.warnings...)
	byName := map[string]*Run{}
	defer cs.Release()
	for i, r := range c.runs {
		run := &Run{Name: r.dir, Dir: r.dir, Spec: sp, State: record.Sealed, Clock: r.clock, Last: console.Frame(r.clock.LastFrame)}
		if err := run.count(); err != nil {
			return reports.Session{}, err
		}
		if r.traced != nil {
			run.Reads = r.traced.Reads
		}
		cs.runs[i+1] = &attempt{run: run}
		byName[r.dir] = run
	}
	return report(ctx, "Comparison", version, []*Case{cs})
}

// count fills in what frames.csv says.
func (r *Run) count() error {
	rec, err := record.OpenFiles(r.Dir, record.FramesFile)
	if err != nil {
		return err
	}
	rows, err := rec.Frames()
	if err != nil {
		return err
	}
	seen := map[console.Frame]bool{}
	for _, row := range rows {
		switch row.State {
		case record.Fresh:
			r.Counts.Fresh++
			seen[row.Frame] = true
		case record.Repeat:
			r.Counts.Repeats++
		case record.Unsure:
			r.Counts.Unsure++
		case record.Damaged:
			r.Counts.Damaged++
		case record.Outside:
			r.Counts.Outside++
		}
	}
	for f := console.Frame(0); f <= r.Last; f++ {
		if !seen[f] {
			r.Unseen = append(r.Unseen, int64(f))
		}
	}
	r.Counts.Pictures, r.Counts.Frames, r.Counts.Unseen = len(rows), int(r.Last)+1, len(r.Unseen)
	r.Pictures = len(rows)
	return nil
}
