package harness

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"latchproof/harness/clock"
	"latchproof/harness/lockstep"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/specs/program"
)

// Case is one spec with its repeats: what the tree of tests runs and a report
// shows. Runs are made when they are first asked for and kept.
type Case struct {
	Spec    *specs.Spec
	Title   string // in the tree and the report; the spec's name when empty
	Note    string // for a demonstration: what is meant to happen
	Repeats int
	Bench   BenchInfo

	run  runner
	runs map[int]*attempt
	tree *lockstep.Tree
	left []string // repeats that could not be compared, and why
	// assumed are the repeats whose frame clock is not a measured one.
	assumed []string
}

type attempt struct {
	run *Run
	err error
}

// runner is what plays or reads repeat n of a case.
type runner func(ctx context.Context, n int) (*Run, error)

// NewCase is a spec to be played by p.
func NewCase(s *specs.Spec, p *Player) *Case {
	c := newCase(s, s.Repeats)
	c.Bench = p.Bench.Describe()
	c.run = func(ctx context.Context, n int) (*Run, error) { return p.Play(ctx, s, n, s.Repeats) }
	return c
}

// NewRecordedCase is runs that are already recorded, judged again when they
// are asked for.
func NewRecordedCase(s *specs.Spec, repeats int, run func(ctx context.Context, n int) (*Run, error)) *Case {
	c := newCase(s, repeats)
	c.run = run
	return c
}

func newCase(s *specs.Spec, repeats int) *Case {
	return &Case{
		Spec: s, Repeats: repeats, runs: map[int]*attempt{},
		tree: lockstep.NewTree(Naming(s.Console, s.Program)),
	}
}

// Naming lets a comparison speak of buttons and program lines. p may be nil.
func Naming(c console.Profile, p *program.Program) lockstep.Options {
	return lockstep.Options{
		LineOf: func(r program.Read) int {
			if p == nil {
				return 0
			}
			return p.LineAt(r)
		},
		StateNames: func(s program.State) string {
			names := c.StateNames(s.P1)
			if s.P2 != 0 {
				names = strings.TrimPrefix(names+" + p2:"+c.StateNames(s.P2), " + ")
			}
			return names
		},
	}
}

// Name is the title, or the spec's name.
func (c *Case) Name() string {
	if c.Title != "" {
		return c.Title
	}
	return c.Spec.Name
}

// Required is how many repeats must stay in lockstep.
func (c *Case) Required() int {
	if c.Spec.Lockstep.Required > 0 {
		return c.Spec.Lockstep.Required
	}
	return c.Repeats
}

// Run gives repeat n (from 1), playing it if nobody asked for it before. A
// repeat that failed is not played again.
func (c *Case) Run(ctx context.Context, n int) (*Run, error) {
	if a, ok := c.runs[n]; ok {
		return a.run, a.err
	}
	run, err := c.run(ctx, n)
	c.runs[n] = &attempt{run, err}
	if err == nil {
		err = c.compare(run)
		c.runs[n].err = err
	}
	return run, err
}

// compare adds a run to the families. A run that joins a family whole needs
// its screens no longer.
func (c *Case) compare(run *Run) error {
	if err := run.Comparable(); err != nil {
		c.left = append(c.left, fmt.Sprintf("%s could not be compared: %v", run.Name, err))
		return nil
	}
	before := c.tree.Families()
	err := c.tree.Add(run.Steps())
	if errors.Is(err, lockstep.ErrUnseen) {
		c.left = append(c.left, fmt.Sprintf("%s could not be compared: %v", run.Name, err))
		return nil
	}
	if err != nil {
		return fmt.Errorf("%s: comparing: %w", run.Name, err)
	}
	if run.Clock.State == clock.Assumed {
		c.assumed = append(c.assumed, run.Name)
	}
	if before > 0 && c.tree.Families() == before {
		return run.Release()
	}
	return nil
}

// Lockstep makes sure that every repeat was run and gives the comparison. An
// error of a single run is not one of the comparison: the run is left out of
// it. When the context ends, its error is given.
func (c *Case) Lockstep(ctx context.Context) (*Steps, error) {
	for n := 1; n <= c.Repeats; n++ {
		if _, err := c.Run(ctx, n); err != nil && ctx.Err() != nil {
			return nil, err
		}
	}
	return c.Steps(), nil
}

// Steps is the comparison of the repeats run so far.
func (c *Case) Steps() *Steps {
	s := &Steps{Result: c.tree.Result(), total: c.Repeats, Left: c.left}
	if len(c.assumed) > 0 {
		s.Warnings = append(s.Warnings, assumedWarning(c.assumed))
	}
	return s
}

func assumedWarning(names []string) string {
	return "the frame clock of " + strings.Join(names, ", ") + " is assumed: its frames may be one off, so a divergence may be no more than that"
}

// Runs are the repeats that were run, in order; with errors for those that
// failed.
func (c *Case) Runs() (runs []*Run, errs []error) {
	for n := 1; n <= c.Repeats; n++ {
		if a, ok := c.runs[n]; ok {
			if a.run != nil {
				runs = append(runs, a.run)
			}
			if a.err != nil {
				errs = append(errs, a.err)
			}
		}
	}
	return runs, errs
}

// Release frees what the runs hold.
func (c *Case) Release() error {
	var errs []error
	for _, a := range c.runs {
		if a.run != nil {
			errs = append(errs, a.run.Close())
		}
	}
	return errors.Join(errs...)
}

// Steps says how the repeats stayed in lockstep.
type Steps struct {
	lockstep.Result
	Left  []string // repeats that could not be compared, and why
	total int
}

// InStep is how many repeats stayed in lockstep with the first, itself
// included, how many could be compared, and how many there were.
func (s *Steps) InStep() (in, compared, total int) {
	if len(s.Families) > 0 {
		in = len(s.Families[0].Runs)
	}
	return in, len(s.Result.Runs), s.total
}

// Doubtful is that of the divergence: why a parting may be no more than one of the
// frame clocks or of the capture card; empty when it is the runs that part.
func Doubtful(d *lockstep.Divergence) string { return d.Doubtful() }

// undecided is how many compared repeats are outside the first family for a
// doubtful reason only.
func (s *Steps) undecided() (n int) {
	for i, f := range s.Families {
		for at := i; at >= 0; at = s.Families[at].Parent {
			if Doubtful(s.Families[at].Parted) != "" {
				n += len(f.Runs)
				break
			}
		}
	}
	return n
}

// Parting says in words where and why the first repeat parted.
func (s *Steps) Parting() string {
	if s.Divergence == nil {
		return ""
	}
	return s.Divergence.Why
}
