package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"latchproof/harness"
	"latchproof/harness/checks"
	"latchproof/harness/soak"
	"latchproof/harness/stats"
	"latchproof/reports"
	"latchproof/specs"
)

// untilFlags are the flags of `play` that make a soak of it.
type untilFlags struct {
	until, resume, keep string
}

const untilHelp = `
With --until one spec is played again and again until a claim such as
"divergence below 1% at 95%" is proven or refuted: that the rate at which a
further repeat parts from the first is below 1 %, with a chance of at most 5 % of
saying so when it is not. The repeats may be looked at and ended at any moment.
Repeats that cannot be compared, or part only doubtfully, are counted apart; 20
of them in a row end it. --repeats is then the most that are played (10,000
unless given). Every repeat is on the disk and in the journal (soak.jsonl in the
output folder) before the next begins: after an interrupt, a kill, a power
failure or a full disk, --resume FOLDER goes on where it stopped.

What is kept of so many repeats is said by --keep:

  lean  (default) video of the first, of the first of each family of repeats that
        stayed together, and of the first 20 with a checkpoint that did not pass
        or other trouble; traces of those and of the last 50 others; of every
        repeat run.json, the read log, the frames and the verdicts
  all   everything

Exit status: 0 proven, and all checkpoints passed; 1 refuted, or a checkpoint
failed; 3 not told.`

func (f *untilFlags) add(c *cobra.Command) {
	c.Flags().StringVar(&f.until, "until", "", "play one spec until this claim is proven or refuted, for example 'divergence below 1% at 95%'")
	c.Flags().StringVar(&f.resume, "resume", "", "go on with the soak in this folder")
	c.Flags().StringVar(&f.keep, "keep", string(soak.Lean), "what --until keeps of finished repeats: lean or all")
}

// asked says whether a soak is asked for, and whether the flags go together.
func (f *untilFlags) asked(c *cobra.Command, args []string) (bool, error) {
	given := func(names ...string) error {
		for _, name := range names {
			if c.Flags().Changed(name) {
				return usageError{fmt.Errorf("--%s does not go with this", name)}
			}
		}
		return nil
	}
	switch {
	case c.Flags().Changed("resume"):
		if len(args) > 0 {
			return true, usageError{errors.New("--resume needs no spec: the folder's journal names it")}
		}
		return true, given("until", "keep", "bench", "out", "timeout", "label-filter")
	case c.Flags().Changed("until"):
		if len(args) != 1 {
			return true, usageError{fmt.Errorf("--until plays one spec, and %d are given", len(args))}
		}
		if k := soak.Keep(f.keep); k != soak.Lean && k != soak.All {
			return true, usageError{fmt.Errorf("--keep %s: want lean or all", f.keep)}
		}
		return true, given("label-filter")
	}
	return false, given("keep")
}

// soaking is what a soak is run with.
type soaking struct {
	bench, out string
	repeats    int // 0: not given
	live       bool
	tree       treeFlags
}

// until begins or resumes a soak and runs it.
func (a *app) until(ctx context.Context, f untilFlags, args []string, o soaking) error {
	if o.repeats < 0 {
		return usageError{fmt.Errorf("--repeats: %d is no number of repeats", o.repeats)}
	}
	k, p, err := a.openSoak(f, args, o)
	if err != nil {
		return err
	}
	bar := a.progress()
	p.Progress = quietEnd{bar}
	if o.live {
		p.Live = a.liveText()
	}
	k.Told = func(line string) {
		bar.clear()
		fmt.Fprintln(bar.w, line)
	}
	tree := o.tree.options(a)
	if tree.JUnit == "" {
		tree.JUnit = filepath.Join(p.Out, "junit.xml")
	}
	failed := harness.RunSoak(k, tree)
	page, err := a.tellSoak(ctx, k, p.Out)
	if err = errors.Join(failed, err, k.Close()); err != nil {
		return err
	}
	if !a.json {
		fmt.Fprintf(a.out, "report: %s\n", page)
		if code := k.ExitCode(); code == codeNothing {
			fmt.Fprintf(a.out, "to go on: latchproof play --resume %s\n", p.Out)
		}
	}
	return verdict(k.ExitCode())
}

func (a *app) openSoak(f untilFlags, args []string, o soaking) (*harness.Soak, *harness.Player, error) {
	if f.resume != "" {
		return a.resumeSoak(f.resume, o)
	}
	claim, err := stats.ParseClaim(f.until)
	if err != nil {
		return nil, nil, usageError{fmt.Errorf("--until: %w", err)}
	}
	list, err := loadSpecs(args)
	if err != nil {
		return nil, nil, err
	}
	b, err := a.openBench(o.bench)
	if err != nil {
		return nil, nil, err
	}
	out, err := sessionFolder(o.out)
	if err != nil {
		return nil, nil, err
	}
	if dir := harness.SpecFolder(out, list[0]); occupied(dir) {
		return nil, nil, usageError{fmt.Errorf("%s holds runs already, and runs are never overwritten; name another folder with --out, or go on with --resume %s", dir, out)}
	}
	p := &harness.Player{Bench: b, Out: out, Version: version}
	k, err := harness.BeginSoak(p, list[0], harness.SoakOptions{
		Claim: claim, Keep: soak.Keep(f.keep), Most: o.repeats, Timeout: o.tree.timeout, BenchFile: o.bench,
	})
	return k, p, err
}

func (a *app) resumeSoak(dir string, o soaking) (*harness.Soak, *harness.Player, error) {
	c, err := soak.ReadFile(dir)
	if err != nil {
		return nil, nil, err
	}
	if c.Torn {
		fmt.Fprintf(a.err, "latchproof: warning: %s: the last line was not written whole and is left out\n", filepath.Join(dir, soak.FileName))
	}
	s, err := specs.Load(c.Header.Spec.Path, checks.All)
	if err != nil {
		return nil, nil, fmt.Errorf("the spec of the soak is not sound:\n%w", err)
	}
	b, err := a.openBench(c.Header.BenchFile)
	if err != nil {
		return nil, nil, err
	}
	p := &harness.Player{Bench: b, Out: dir, Version: version}
	k, err := harness.ResumeSoak(p, s, c.Header.BenchFile)
	if err == nil && o.repeats > 0 {
		k.Extend(o.repeats)
	}
	return k, p, err
}

// quietEnd is progress that leaves the line at the end of a repeat to the soak.
type quietEnd struct{ *progress }

// Ended implements harness.Progress.
func (q quietEnd) Ended(string, int, int, string) { q.clear() }

// tellSoak prints what a soak found and writes its report.
func (a *app) tellSoak(ctx context.Context, k *harness.Soak, out string) (string, error) {
	// An interrupt that ended the soak is no reason to leave out its report.
	s, err := k.Report(context.WithoutCancel(ctx), "latchproof play --until", version)
	if err != nil {
		fmt.Fprintln(a.err, reports.Plain(k.Sentence()))
		return "", err
	}
	if !a.json {
		if err := a.summary(s); err != nil {
			return "", err
		}
		if n := k.Tally().Assumed; n > 0 {
			fmt.Fprintf(a.out, "  note: the frame clock of %d repeats is assumed, so a parting of theirs is left out\n", n)
		}
	}
	return a.report(s, out)
}
