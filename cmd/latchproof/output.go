package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"text/tabwriter"

	"latchproof/harness"
	"latchproof/harness/judge"
	"latchproof/reports"
)

// write writes the report files of a session into out and gives the path of
// the page. With --json the session goes to standard output too.
func (a *app) write(title string, cases []*harness.Case, out string) (string, error) {
	s, err := harness.Report(title, version, cases)
	if err != nil {
		return "", err
	}
	page, err := a.writeSession(s, out)
	if err != nil {
		return "", err
	}
	if a.json {
		if err := reports.WriteJSON(a.out, s); err != nil {
			return "", err
		}
	}
	return page, nil
}

// writeSession writes a session into out as a page and as JSON.
func (a *app) writeSession(s reports.Session, out string) (string, error) {
	page := filepath.Join(out, "report.html")
	if err := writeFile(page, func(w io.Writer) error { return reports.WriteHTML(w, s) }); err != nil {
		return "", err
	}
	return page, writeFile(filepath.Join(out, "report.json"), func(w io.Writer) error { return reports.WriteJSON(w, s) })
}

// writeFile writes a file whole or not at all.
func writeFile(path string, write func(io.Writer) error) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), ".part-*")
	if err != nil {
		return fmt.Errorf("%s: %w", path, cause(err))
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
			err = fmt.Errorf("%s: %w", path, cause(err))
		}
	}()
	if err := f.Chmod(0o644); err != nil {
		return err
	}
	if err := write(f); err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

// printCases prints a short summary: per case the verdict, a sentence, and a
// table of the checkpoints.
func (a *app) printCases(cases []*harness.Case) {
	for _, c := range cases {
		fmt.Fprintf(a.out, "\n%s: %s\n", c.Name(), c.Verdict())
		if c.Note != "" {
			fmt.Fprintf(a.out, "  (%s)\n", c.Note)
		}
		fmt.Fprintf(a.out, "  %s\n", c.Sentence())
		steps := c.Steps()
		if len(steps.Families) > 1 {
			for i, f := range steps.Families {
				fmt.Fprintf(a.out, "  family %d, from frame %d: %s\n", i+1, f.From, strings.Join(f.Runs, ", "))
			}
		}
		if d := steps.Divergence; d != nil {
			fmt.Fprintf(a.out, "  first divergence: frame %d, read %d, kind %s, program line %d\n", d.Frame, d.Read, d.Kind, steps.Line)
		}
		a.printCheckpoints(c)
		for _, note := range append(steps.Warnings, steps.Left...) {
			fmt.Fprintf(a.out, "  note: %s\n", note)
		}
	}
}

func (a *app) printCheckpoints(c *harness.Case) {
	runs, _ := c.Runs()
	if len(runs) == 0 {
		return
	}
	w := tabwriter.NewWriter(a.out, 0, 0, 2, ' ', 0)
	spreads := c.Spreads()
	for i, cp := range c.Spec.Checkpoints {
		n := map[judge.Verdict]int{}
		why := ""
		for _, r := range runs {
			res, ok := r.Result(cp.Name)
			if !ok {
				continue
			}
			n[res.Verdict]++
			if res.Verdict != judge.Pass && why == "" {
				why = fmt.Sprintf("%s: %s", r.Name, res.Why)
			}
		}
		if s := spreads[i]; s != nil && why == "" {
			why = s.String()
		}
		fmt.Fprintf(w, "  %s\tat %s\tpass %d\tfail %d\tunseen %d\t%s\n", cp.Name, cp.At, n[judge.Pass], n[judge.Fail], n[judge.Unseen], why)
	}
	w.Flush()
}
