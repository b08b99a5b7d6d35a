package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"latchproof/harness"
	"latchproof/harness/checks"
	"latchproof/specs"
)

// treeFlags are the flags of the commands that run the tree of tests.
type treeFlags struct {
	filter  string
	timeout time.Duration
	junit   string
	verbose bool
}

func (f *treeFlags) add(c *cobra.Command) {
	c.Flags().StringVar(&f.filter, "label-filter", "", "run only the checks with these labels, for example 'shows && !slow' or 'repeat-1'")
	c.Flags().DurationVar(&f.timeout, "timeout", harness.DefaultTimeout, "time allowed for one repeat of a spec that names none itself")
	c.Flags().StringVar(&f.junit, "junit", "", "write the results as JUnit XML to this file")
	c.Flags().BoolVarP(&f.verbose, "verbose", "v", false, "show the tree of tests as it runs, on standard error")
}

func (f *treeFlags) options(a *app) harness.TreeOptions {
	o := harness.TreeOptions{LabelFilter: f.filter, Timeout: f.timeout, JUnit: f.junit}
	if f.verbose {
		o.Log = bare(a.err)
	}
	return o
}

func (a *app) playCommand() *cobra.Command {
	var bench, out string
	var repeats int
	var early bool
	var tree treeFlags
	var until untilFlags
	c := &cobra.Command{
		Use:   "play SPEC...",
		Short: "Play specs on a bench, judge them and compare the repeats",
		Long: strings.TrimSpace(`
Plays each spec as often as it asks on a bench, judges every checkpoint at its
frame, compares the repeats, and writes into the output folder:

  SPEC/run-001 ...   one sealed run folder per repeat (record, capture, reads)
  report.html        the report, a single file that opens from disk
  report.json        the same as numbers (its schema: reports/report.schema.json)
  report.md          a summary in Markdown, for a pull request
  card.png           the verdict as a picture of 1200 by 630 pixels, for sharing
  junit.xml          for a continuous-integration server

The bench is the built-in simulated one unless --bench names a bench file. An
interrupt (Ctrl-C) seals or marks the run that is on and ends.

With --live checkpoints are also judged while a run goes on and printed as they
fall: frame, verdict, score, name (on standard error with --json). That is
provisional, from the reads so far and the calibrated latency; the judgement of
the sealed run takes its place, and a difference between the two is said.
` + untilHelp),
		Example: "  latchproof play first-lamp.spec.yaml\n  latchproof play --bench workbench.yaml --repeats 20 --out soak specs/*.spec.yaml\n  latchproof play --live first-lamp.spec.yaml\n  latchproof play --until 'divergence below 1% at 95%' --out soak first-lamp.spec.yaml\n  latchproof play --resume soak",
		Args:    playArgs,
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return []string{"yaml", "yml"}, cobra.ShellCompDirectiveFilterFileExt
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := harness.CheckLabelFilter(tree.filter); err != nil {
				return usageError{err}
			}
			if soaks, err := until.asked(cmd, args); err != nil {
				return err
			} else if soaks {
				return a.until(cmd.Context(), until, args, soaking{bench, out, repeats, early, tree})
			}
			list, err := loadSpecs(args)
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
			b, err := a.openBench(bench)
			if err != nil {
				return err
			}
			if out, err = sessionFolder(out); err != nil {
				return err
			}
			for _, s := range list {
				if dir := harness.SpecFolder(out, s); occupied(dir) {
					return usageError{fmt.Errorf("%s holds runs already, and runs are never overwritten; name another folder with --out", dir)}
				}
			}
			p := &harness.Player{Bench: b, Out: out, Version: version, Progress: a.progress(), KeepScreens: true}
			if early {
				p.Live = a.liveText()
			}
			var cases []*harness.Case
			for _, s := range list {
				cases = append(cases, harness.NewCase(s, p))
			}
			return a.session(cmd.Context(), "latchproof play", cases, out, tree)
		},
	}
	c.Flags().StringVar(&bench, "bench", "", "bench file; the built-in simulated bench when not given")
	c.Flags().IntVar(&repeats, "repeats", 0, "how many repeats, instead of what the spec says; with --until the most that are played")
	c.Flags().StringVar(&out, "out", "", "output folder; default runs/ and the time")
	c.Flags().BoolVar(&early, "live", false, "judge checkpoints while the run goes on and print them as they fall")
	until.add(c)
	tree.add(c)
	a.markdownFlag(c)
	return c
}

// playArgs asks for a spec, unless a soak is resumed.
func playArgs(c *cobra.Command, args []string) error {
	if c.Flags().Changed("resume") {
		return nil
	}
	return cobra.MinimumNArgs(1)(c, args)
}

// loadSpecs loads all specs, with the problems of all of them in one error.
func loadSpecs(files []string) ([]*specs.Spec, error) {
	var list []*specs.Spec
	var problems []string
	names := map[string]string{}
	for _, f := range files {
		s, err := specs.Load(f, checks.All)
		if err != nil {
			problems = append(problems, err.Error())
			continue
		}
		if other, ok := names[s.Name]; ok {
			problems = append(problems, fmt.Sprintf("%s: the spec's name %q is also that of %s", f, s.Name, other))
			continue
		}
		names[s.Name] = f
		list = append(list, s)
	}
	if len(problems) > 0 {
		return nil, fmt.Errorf("the specs are not sound:\n%s", strings.Join(problems, "\n"))
	}
	return list, nil
}

// sessionFolder makes the output folder. One that was named must be writable;
// runs in it are never overwritten.
func sessionFolder(out string) (string, error) {
	if out == "" {
		out = filepath.Join("runs", time.Now().Format("20060102-150405"))
	}
	if err := os.MkdirAll(out, 0o777); err != nil {
		return "", fmt.Errorf("output folder: %w", plain(err))
	}
	probe, err := os.CreateTemp(out, ".probe-*")
	if err != nil {
		return "", fmt.Errorf("output folder %s cannot be written: %w", out, plain(err))
	}
	probe.Close()
	return out, os.Remove(probe.Name())
}

// occupied says whether a folder is there with something in it.
func occupied(dir string) bool {
	entries, err := os.ReadDir(dir)
	return err == nil && len(entries) > 0
}

// runTree runs the tree of the cases, prints what was found, writes the reports
// into out and gives the path of the page. The cases are released.
func (a *app) runTree(title string, cases []*harness.Case, out string, o harness.TreeOptions) (string, error) {
	if o.JUnit == "" {
		o.JUnit = filepath.Join(out, "junit.xml")
	}
	defer func() {
		for _, c := range cases {
			_ = c.Release()
		}
	}()
	// What was found is printed even when the disk has no room for the reports.
	broken := harness.RunTree(cases, o)
	s, err := harness.Report(title, version, cases)
	if err != nil {
		return "", errors.Join(broken, err)
	}
	if !a.json {
		if err := a.summary(s); err != nil {
			return "", errors.Join(broken, err)
		}
	}
	page, err := a.report(s, out)
	return page, errors.Join(broken, err)
}

// session runs the cases of `play` and turns what they found into the exit code.
func (a *app) session(ctx context.Context, title string, cases []*harness.Case, out string, tree treeFlags) error {
	page, err := a.runTree(title, cases, out, tree.options(a))
	if err != nil {
		return err
	}
	if !a.json {
		fmt.Fprintf(a.out, "report: %s\n", page)
	}
	code := harness.ExitCode(cases)
	if code == codeHeld && ctx.Err() != nil {
		code = codeNothing
	}
	return verdict(code)
}
