package harness

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"latchproof/harness/clock"
	"latchproof/harness/lockstep"
	"latchproof/harness/record"
	"latchproof/harness/shrink"
	"latchproof/harness/stats"
	"latchproof/specs/program"
)

// maxFailed is how many repeats in a row may fail before the bench is taken to
// have failed.
const maxFailed = 3

// play plays a program once into a folder, of which only what a comparison needs
// is kept. Without a run there is a reason why it counts for nothing, or an
// error after which nothing can be played.
func (s *Shrinker) play(ctx context.Context, p *program.Program, tail int, dir string) (*Run, string, error) {
	if err := os.WriteFile(filepath.Join(dir, programName), p.Format(), 0o666); err != nil {
		return nil, "", err
	}
	sp := *s.spec
	sp.Dir, sp.ProgramFile, sp.Program, sp.Tail = dir, programName, p, tail
	limit := sp.Timeout
	if limit == 0 {
		limit = DefaultTimeout
	}
	timed, cancel := context.WithTimeout(ctx, limit)
	defer cancel()
	s.numbers++
	run, err := (&Player{Bench: s.Bench, Out: dir, Version: s.Version}).Play(timed, &sp, s.numbers, 0)
	if ctx.Err() != nil {
		return nil, "", fmt.Errorf("%w: %w", ErrStopped, context.Cause(ctx))
	}
	if err != nil {
		if s.failed++; s.failed >= maxFailed {
			return nil, "", fmt.Errorf("%d repeats in a row failed: %w", s.failed, err)
		}
		return nil, oneLine(err), os.RemoveAll(runDir(run, dir))
	}
	s.failed = 0
	if err := os.Remove(filepath.Join(run.Dir, record.CaptureFile)); err != nil && !os.IsNotExist(err) {
		return nil, "", err
	}
	why := ""
	if err := run.Comparable(); err != nil {
		why = err.Error()
	} else if run.Clock.State != clock.Measured {
		why = fmt.Sprintf("its frame clock is %s: %s", run.Clock.State, run.Clock.Why)
	}
	if why != "" {
		return nil, why, os.RemoveAll(run.Dir)
	}
	return run, "", nil
}

// programName is the program's file in a folder of candidates.
const programName = "candidate.prog"

// runDir is the folder of a run that failed, which may not have come so far.
func runDir(run *Run, dir string) string {
	if run == nil {
		return filepath.Join(dir, "none")
	}
	return run.Dir
}

// series is a program played again and again.
type series struct {
	told  ShrunkProgram
	reads []program.Read // at the frames on which repeats surely parted, in order of playing
	why   string         // the first repeat that was left out
}

// series plays a program until n repeats besides the first counted. With more,
// when some were unlike the largest group, it goes on until enough are, but at
// most originals*n times. The time that may be spent does not end it before n.
func (s *Shrinker) series(ctx context.Context, p *program.Program, tail int, n int64, more bool) (*series, error) {
	dir, err := os.MkdirTemp(s.work, "series-*")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	out := &series{told: ShrunkProgram{Hash: p.Hash(), Reads: p.Reads(), Statements: statements(p.Parts())}}
	t := &out.told
	tree := lockstep.NewTree(Naming(s.spec.Console, p))
	var reads []lockstep.ReadInfo // of the first run
	kind := s.kind
	for t.Repeats < n || more && t.Groups.Outside > 0 && t.Groups.Outside < shrink.Enough && t.Repeats < originals*n && !s.spent() {
		run, why, err := s.play(ctx, p, tail, dir)
		if err != nil {
			return nil, err
		}
		families := tree.Families()
		if run != nil {
			if err := tree.Add(run.Steps()); err != nil {
				why = err.Error()
				run = nil
			}
		}
		res := tree.Result()
		switch {
		case run == nil:
			if out.left(why); t.LeftOut > t.Repeats+maxLeftOut {
				return out, nil
			}
			continue
		case families == 0:
			reads = run.Reads
			continue
		}
		if tree.Families() == families { // no later run is held against it
			if err := os.RemoveAll(run.Dir); err != nil {
				return nil, err
			}
		}
		switch d := res.Lives[len(res.Lives)-1].Parted; {
		case d == nil:
			t.Repeats++
		case Doubtful(d) != "":
			if out.left(Doubtful(d)); t.LeftOut > t.Repeats+maxLeftOut {
				return out, nil
			}
			continue
		default:
			t.Repeats++
			if kind == "" && !s.AnyKind {
				kind = d.Kind
			}
			if s.AnyKind || d.Kind == kind {
				t.Parted++
				out.parted(d, readsAt(reads, run.Reads, d), p)
			}
		}
		t.Groups, err = shrink.Estimate(s.groups(res, kind))
		if err != nil {
			return nil, err
		}
		s.say("%d reads, %s", t.Reads, t.count())
	}
	limits, err := stats.ClopperPearson(t.Parted, t.Repeats, 0.95)
	t.Low, t.High = limits.Low, limits.High
	return out, err
}

// maxLeftOut is how many more repeats than count may be left out of a series.
const maxLeftOut = 5

func (e *series) left(why string) {
	if e.told.LeftOut++; e.why == "" {
		e.why = why
	}
}

// parted notes a sure parting; at is the read that the console had made last.
func (e *series) parted(d *lockstep.Divergence, at program.Read, p *program.Program) {
	if t := &e.told; len(e.reads) == 0 || d.Frame < t.Frame {
		t.Frame, t.Read, t.Kind, t.Part, t.Why, t.Line = d.Frame, d.Read, d.Kind, d.Part, d.Why, p.LineAt(d.Read)
	}
	e.reads = append(e.reads, at)
}

// readsAt is the last read at or before the frame of a divergence in either run:
// what is pressed later has no part in it.
func readsAt(a, b []lockstep.ReadInfo, d *lockstep.Divergence) program.Read {
	at := d.Read
	for _, reads := range [][]lockstep.ReadInfo{a, b} {
		for _, r := range reads {
			if r.Frame <= d.Frame {
				at = max(at, r.Read)
			}
		}
	}
	return at
}

// cuts are the lengths to which the program is cut first: a few reads after the
// earliest divergence, or after the last.
func (e *series) cuts() []int64 {
	if len(e.reads) == 0 {
		return nil
	}
	first, last := e.reads[0], e.reads[0]
	for _, r := range e.reads {
		first, last = min(first, r), max(last, r)
	}
	return []int64{int64(first) + 1 + fewReads, int64(last) + 1 + fewReads}
}

// groups are the sizes of the groups of runs that do not surely part in the way
// that is looked for.
func (s *Shrinker) groups(r lockstep.Result, kind lockstep.Kind) []int {
	n := make([]int, len(r.Families))
	for i, f := range r.Families {
		at := i
		for at > 0 {
			d := r.Families[at].Parted
			if Doubtful(d) == "" && (s.AnyKind || d.Kind == kind) {
				break
			}
			at = r.Families[at].Parent
		}
		n[at] += len(f.Runs)
	}
	return n
}

// statements counts the statements that make reads, repeats included.
func statements(parts []program.Part) int {
	n := len(parts)
	for _, p := range parts {
		n += statements(p.Body)
	}
	return n
}
