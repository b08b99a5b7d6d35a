package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"latchproof/harness"
	"latchproof/harness/baseline"
	"latchproof/reports"
	"latchproof/specs"
)

func (a *app) baselineCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "baseline",
		Short: "Keep runs as the reference, and say whether a changed bench does worse",
		Args:  cobra.NoArgs,
		RunE:  func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	c.AddCommand(a.baselineAcceptCommand(), a.baselineCheckCommand())
	return c
}

func (a *app) baselineAcceptCommand() *cobra.Command {
	var bench, runs, out string
	var repeats int
	var o baseline.AcceptOptions
	var tree treeFlags
	c := &cobra.Command{
		Use:   "accept BASE SPEC...",
		Short: "Keep runs of specs on one bench as the reference",
		Long: strings.TrimSpace(`
Plays specs on a bench, or takes runs that were recorded (--runs), and keeps them
in the folder BASE as the reference that a changed bench is held against: another
firmware, another board revision.

  BASE/baseline.json  what was accepted, when and on what, with the hash of all
  BASE/specs/SPEC/    the specs with all files that they name
  BASE/runs/SPEC/     the sealed runs; the first is the reference, and only its
                      video is kept unless --videos is given

BASE is written whole or not at all, and one that exists is left alone unless
--replace is given. Refused are runs that are partial or damaged, whose frame
clock is assumed or not trusted, that come from different benches or other texts
of the specs, fewer than 2 of a spec, and, unless --anyway is given, runs with a
checkpoint that failed or is unseen. Runs that were played stay in the output
folder as well. Do not play again until the runs please: every test of a check
supposes that the baseline's runs are as they come.`),
		Example: "  latchproof baseline accept base specs/*.spec.yaml --bench workbench.yaml --repeats 40\n  latchproof baseline accept base walk.spec.yaml --runs runs/20260412-201501",
		Args:    cobra.MinimumNArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			if runs != "" && (bench != "" || cmd.Flags().Changed("repeats")) {
				return usageError{errors.New("--runs takes runs that were recorded, so --bench and --repeats mean nothing with it")}
			}
			list, err := loadSpecs(args[1:])
			if err != nil {
				return err
			}
			if cmd.Flags().Changed("repeats") {
				for _, s := range list {
					if err := s.SetRepeats(repeats); err != nil {
						return usageError{fmt.Errorf("--repeats: %w", err)}
					}
				}
			}
			if entries, err := os.ReadDir(args[0]); err == nil && len(entries) > 0 && !o.Replace {
				return usageError{fmt.Errorf("%s: %w; --replace puts another in its place", args[0], baseline.ErrExists)}
			}
			if runs == "" {
				if runs, err = a.playBaseline(cmd.Context(), list, bench, out, tree); err != nil {
					return err
				}
			}
			var in []baseline.Input
			for _, s := range list {
				folders, err := harness.RunFolders(runs, s)
				if err != nil {
					return err
				}
				in = append(in, baseline.Input{Spec: s, Runs: folders})
			}
			o.Versions, o.Now = map[string]string{"latchproof": version}, time.Now()
			m, err := baseline.Accept(cmd.Context(), args[0], in, o)
			if err != nil {
				return plain(err)
			}
			return a.accepted(args[0], m)
		},
	}
	c.Flags().StringVar(&bench, "bench", "", "bench file; the built-in simulated bench when not given")
	c.Flags().IntVar(&repeats, "repeats", 0, "how many repeats, instead of what the specs say")
	c.Flags().StringVar(&runs, "runs", "", "take the sealed runs of this session folder instead of playing")
	c.Flags().StringVar(&out, "out", "", "output folder of the runs that are played; default runs/ and the time")
	c.Flags().BoolVar(&o.Replace, "replace", false, "put it in the place of an existing baseline")
	c.Flags().BoolVar(&o.Anyway, "anyway", false, "accept runs with checkpoints that failed or are unseen, and note them")
	c.Flags().BoolVar(&o.Videos, "videos", false, "keep the video of every run")
	c.Flags().DurationVar(&tree.timeout, "timeout", harness.DefaultTimeout, "time allowed for one repeat of a spec that names none itself")
	return c
}

// playBaseline plays the specs and gives the session's folder.
func (a *app) playBaseline(ctx context.Context, list []*specs.Spec, bench, out string, tree treeFlags) (string, error) {
	b, err := a.openBench(bench)
	if err != nil {
		return "", err
	}
	if out, err = sessionFolder(out); err != nil {
		return "", err
	}
	p := &harness.Player{Bench: b, Out: out, Version: version, Progress: a.progress()}
	var cases []*harness.Case
	for _, s := range list {
		if dir := harness.SpecFolder(out, s); occupied(dir) {
			return "", usageError{fmt.Errorf("%s holds runs already, and runs are never overwritten; name another folder with --out", dir)}
		}
		cases = append(cases, harness.NewCase(s, p))
	}
	defer func() {
		for _, c := range cases {
			_ = c.Release()
		}
	}()
	o := tree.options(a)
	o.JUnit = filepath.Join(out, "junit.xml")
	if err := harness.RunTree(cases, o); err != nil {
		return "", err
	}
	if ctx.Err() != nil {
		return "", fmt.Errorf("%w: the runs so far are in %s", harness.ErrStopped, out)
	}
	return out, nil
}

func (a *app) accepted(dir string, m baseline.Meta) error {
	if a.json {
		return a.printJSON(m)
	}
	for _, s := range m.Specs {
		fmt.Fprintf(a.out, "%s: %d runs; the reference is %s\n", s.Name, len(s.Runs), s.Runs[0].Folder)
	}
	for _, n := range m.Anyway {
		fmt.Fprintf(a.out, "note: accepted all the same: %s\n", n)
	}
	fmt.Fprintf(a.out, "accepted: %s\n", filepath.Join(dir, baseline.FileName))
	return nil
}

func (a *app) baselineCheckCommand() *cobra.Command {
	var bench, runs, out string
	var repeats int
	var tree treeFlags
	o := baseline.DefaultOptions()
	c := &cobra.Command{
		Use:   "check BASE",
		Short: "Say whether a changed bench does worse than the baseline",
		Long: strings.TrimSpace(`
Plays the specs of the baseline BASE on a candidate bench, as often as the
baseline has runs, or takes runs that were recorded (--runs), and holds both
against the reference of the baseline. Says in what the benches differ and, per
spec, whether the candidate shows the same pictures or where it parts, and tests:

  lockstep     do more runs part from the reference?      (Fisher's exact test)
  survival     and do they part earlier?                  (log-rank test)
  read jitter, service latency: longer than the baseline's and a quarter?
                                                          (rank sum test)
  odd clocks, underruns, late serves, reads, checkpoints: more runs with any?
                                                          (Fisher's exact test)

All one-sided, with Holm's correction over all tests of all specs, so that when
nothing has changed the chance of any "worse" is at most --alpha. "No worse" is
said when that is shown too: rates of trouble less than --margin above the
baseline's, and times within theirs. Otherwise it cannot be told, and how many
more repeats would be needed is said: 25 clean ones for a margin of 10 %.

A check looks once. To play more repeats is a new check: play all of them anew,
and do not look again and again until it pleases.

Exit status: 0 no worse, 1 worse, 2 bad input or usage, 3 cannot tell. With --out
the runs of the candidate, report.html, report.json, report.md, card.png,
check.json (what --json prints) and junit.xml are written there.`),
		Example: "  latchproof baseline check base --bench newfirmware.yaml --repeats 40 --out checked\n  latchproof baseline check base --runs runs/20260412-211742 --junit junit.xml",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if runs != "" && (bench != "" || cmd.Flags().Changed("repeats")) {
				return usageError{errors.New("--runs takes runs that were recorded, so --bench and --repeats mean nothing with it")}
			}
			if cmd.Flags().Changed("repeats") && (repeats < 1 || repeats > specs.MaxRepeats) {
				return usageError{fmt.Errorf("--repeats: %d is not from 1 to %d", repeats, specs.MaxRepeats)}
			}
			if err := o.Check(); err != nil {
				return usageError{err}
			}
			check, err := harness.OpenBaseline(cmd.Context(), args[0])
			if err != nil {
				return err
			}
			check.Options = o
			if runs != "" {
				err = check.Take(runs)
				if err == nil && out != "" {
					out, err = sessionFolder(out)
				}
			} else {
				out, err = a.playCandidate(check, bench, out, repeats)
			}
			if err != nil {
				return err
			}
			return a.baselineCheck(cmd.Context(), check, out, tree.options(a))
		},
	}
	c.Flags().StringVar(&bench, "bench", "", "bench file of the candidate; the built-in simulated bench when not given")
	c.Flags().IntVar(&repeats, "repeats", 0, "how many repeats of each spec, instead of as many as the baseline has")
	c.Flags().StringVar(&runs, "runs", "", "take the sealed runs of this session folder instead of playing")
	c.Flags().StringVar(&out, "out", "", "output folder; default runs/ and the time when runs are played")
	c.Flags().Var((*share)(&o.Margin), "margin", "how much higher a rate of trouble may be and still be no worse")
	c.Flags().Var((*share)(&o.Alpha), "alpha", "the chance, at most, of any \"worse\" when nothing has changed")
	c.Flags().StringVar(&tree.junit, "junit", "", "write the results as JUnit XML to this file")
	c.Flags().DurationVar(&tree.timeout, "timeout", harness.DefaultTimeout, "time allowed for one repeat of a spec that names none itself")
	c.Flags().BoolVarP(&tree.verbose, "verbose", "v", false, "show the tree of tests as it runs, on standard error")
	a.markdownFlag(c)
	return c
}

// share is a flag such as 10% or 0.1.
type share float64

func (s *share) String() string { return strconv.FormatFloat(100*float64(*s), 'g', 6, 64) + "%" }
func (*share) Type() string     { return "share" }

// Set implements pflag.Value.
func (s *share) Set(text string) error {
	number, percent := strings.CutSuffix(text, "%")
	v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	if percent {
		v /= 100
	}
	if err != nil || !(v > 0 && v < 1) {
		return fmt.Errorf("want a share such as 10%% or 0.1, more than 0 and less than all")
	}
	*s = share(v)
	return nil
}

func (a *app) playCandidate(check *harness.BaselineCheck, bench, out string, repeats int) (string, error) {
	b, err := a.openBench(bench)
	if err != nil {
		return "", err
	}
	if out, err = sessionFolder(out); err != nil {
		return "", err
	}
	for _, s := range check.Specs {
		if dir := harness.SpecFolder(out, s.Spec); occupied(dir) {
			return "", usageError{fmt.Errorf("%s holds runs already, and runs are never overwritten; name another folder with --out", dir)}
		}
	}
	check.PlayOn(&harness.Player{Bench: b, Out: out, Version: version, Progress: a.progress()}, repeats)
	return out, nil
}

func (a *app) baselineCheck(ctx context.Context, check *harness.BaselineCheck, out string, o harness.TreeOptions) error {
	if o.JUnit == "" && out != "" {
		o.JUnit = filepath.Join(out, "junit.xml")
	}
	broken := check.RunBaseline(o)
	if ctx.Err() != nil {
		return errors.Join(broken, fmt.Errorf("%w: nothing is said of runs that are not all there", harness.ErrStopped))
	}
	res, err := check.Result(ctx)
	if err != nil {
		return errors.Join(broken, err)
	}
	s, err := res.Report("latchproof baseline check", version)
	if err != nil {
		return errors.Join(broken, err)
	}
	if a.json {
		err = a.printJSON(res)
	} else {
		err = a.printBaseline(res, s)
	}
	if err = errors.Join(broken, err); err != nil {
		return err
	}
	if err := a.writeBaseline(res, s, out); err != nil {
		return err
	}
	switch {
	case res.Verdict == baseline.Worse:
		return verdict(codeNot)
	case res.Verdict == baseline.CannotTell:
		return verdict(codeNothing)
	}
	return nil
}

func (a *app) printBaseline(r *harness.BaselineResult, s reports.Session) error {
	if err := a.summary(s); err != nil {
		return err
	}
	for _, c := range r.Specs {
		for _, list := range [][]string{c.Left, c.Notes, c.Warnings} {
			for _, n := range list {
				fmt.Fprintf(a.out, "note: %s: %s\n", reports.Plain(c.Name), reports.Plain(n))
			}
		}
	}
	return nil
}

// writeBaseline writes what was found into out: the report, and what --json
// prints.
func (a *app) writeBaseline(r *harness.BaselineResult, s reports.Session, out string) error {
	page, err := a.writeSession(s, out)
	if err != nil || out == "" {
		return err
	}
	if !a.json {
		fmt.Fprintf(a.out, "report: %s\n", page)
	}
	return writeFile(filepath.Join(out, "check.json"), func(w io.Writer) error {
		e := json.NewEncoder(w)
		e.SetIndent("", "  ")
		return e.Encode(r)
	})
}
