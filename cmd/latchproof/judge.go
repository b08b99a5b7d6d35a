package main

import (
	"context"
	"fmt"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"latchproof/harness"
	"latchproof/harness/checks"
	"latchproof/harness/judge"
	"latchproof/reports"
	"latchproof/specs"
)

func (a *app) judgeCommand() *cobra.Command {
	var spec, out string
	var tree treeFlags
	c := &cobra.Command{
		Use:   "judge RUN... --spec SPEC",
		Short: "Judge recorded runs again",
		Long: strings.TrimSpace(`
Judges sealed run folders against a spec: the frame clock is built anew from the
read log and the stamps, and every checkpoint is judged at its frame. Only the
pictures that a checkpoint asks for are looked at; with --out, all of them. With --json one object per run is printed, one after
another. With --out a report is written there too.`),
		Example: "  latchproof judge runs/first-lamp/run-001 --spec first-lamp.spec.yaml",
		Args:    cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if spec == "" {
				return usageError{fmt.Errorf("latchproof judge: --spec is needed")}
			}
			if err := harness.CheckLabelFilter(tree.filter); err != nil {
				return usageError{err}
			}
			s, err := specs.Load(spec, checks.All)
			if err != nil {
				return fmt.Errorf("the spec is not sound:\n%w", err)
			}
			c := harness.NewRecordedCase(s, len(args), func(ctx context.Context, n int) (*harness.Run, error) {
				return a.judgeRun(ctx, args[n-1], s, n, len(args), out != "")
			})
			cases := []*harness.Case{c}
			defer c.Release()
			if out != "" {
				if out, err = sessionFolder(out); err != nil {
					return err
				}
			}
			if err := harness.RunTree(cases, tree.options(a)); err != nil {
				return err
			}
			return a.judged(cmd.Context(), c, out)
		},
	}
	c.Flags().StringVar(&spec, "spec", "", "spec file to judge against (needed)")
	c.Flags().StringVar(&out, "out", "", "write the report (report.html, report.json, report.md, card.png) into this folder")
	tree.add(c)
	a.markdownFlag(c)
	return c
}

func (a *app) judgeRun(ctx context.Context, dir string, s *specs.Spec, n, of int, keep bool) (*harness.Run, error) {
	p := a.progress()
	p.Stage("judge", n, of, "watching", 0)
	defer p.clear()
	return harness.JudgeRecorded(ctx, dir, s, keep, func(k int) { p.Advance(int64(k)) })
}

// timingRange is a timing in a few words.
func timingRange(t *judge.Timing) string {
	switch {
	case t.Verdict != judge.Pass:
		return "-"
	case t.Low != t.High:
		return fmt.Sprintf("%d (%d..%d) frames, %.3f s", t.Frames, t.Low, t.High, t.Seconds)
	}
	return fmt.Sprintf("%d frames, %.3f s", t.Frames, t.Seconds)
}

func (a *app) judged(ctx context.Context, c *harness.Case, out string) error {
	runs, errs := c.Runs()
	for _, r := range runs {
		v := r.Verdict()
		if a.json {
			if err := a.printJSON(v); err != nil {
				return err
			}
			continue
		}
		fmt.Fprintf(a.out, "%s: %s (clock %s)\n", reports.Plain(r.Dir), v.Verdict, r.Clock.State)
		w := tabwriter.NewWriter(a.out, 0, 0, 2, ' ', 0)
		for _, res := range r.Results {
			fmt.Fprintf(w, "  %s\t%s\tframe %d\t%s\n", res.Verdict, reports.Plain(res.Name), res.Frame, reports.Plain(res.Why))
		}
		if t := r.Timing; t != nil {
			fmt.Fprintf(w, "  %s\ttiming\t%s\t%s\n", t.Verdict, timingRange(t), reports.Plain(t.Why))
		}
		w.Flush()
		for _, p := range r.Problems {
			fmt.Fprintf(a.out, "  note: %s\n", reports.Plain(p))
		}
	}
	if out != "" || a.markdown != "" {
		s, err := harness.Report("latchproof judge", version, []*harness.Case{c})
		if err != nil {
			return err
		}
		page, err := a.writeSession(s, out)
		if err != nil {
			return err
		}
		if !a.json && out != "" {
			fmt.Fprintf(a.out, "report: %s\n", page)
		}
	}
	if len(errs) > 0 {
		for _, e := range errs[1:] {
			fmt.Fprintf(a.err, "latchproof: %v\n", e)
		}
		return errs[0]
	}
	return verdict(c.CheckpointCode(ctx))
}
