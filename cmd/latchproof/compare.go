package main

import (
	"context"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"latchproof/harness"
	"latchproof/harness/lockstep"
	"latchproof/reports"
)

func (a *app) compareCommand() *cobra.Command {
	var out string
	c := &cobra.Command{
		Use:   "compare RUN RUN...",
		Short: "Say whether runs show the same picture on the same frame, and where they part",
		Long: strings.TrimSpace(`
Compares sealed runs by their traces and read logs; no video is decoded, unless
a trace is damaged: then it is made again from the video, and a note says so.
Prints the families of runs that stayed in lockstep and the first divergence: its
frame, its read, the region that differs, what the evidence points to, and its
kind (input: the read logs differ first; picture: same reads, different picture;
shift: the same pictures some frames later or earlier; end: one run stops early).
Each run is compared with the first one, and those that part with each other.

With --out a report is written: for every parting both pictures, taken from the
videos, where they differ, the reads of both runs around it and the program line.

Runs whose frame clock is assumed (imported without a calibrated bench) may have
every frame one off: that they stay in lockstep still counts, but when they part
nothing can be said, and the exit status is 3. It is 3 as well when runs agree
only after one of them is shifted while their reads keep their frames: then a
frame clock or the capture card is wrong, and not the run.`),
		Example: "  latchproof compare runs/first-lamp/run-* --out compared",
		Args:    cobra.MinimumNArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			var c harness.Comparison
			defer c.Close()
			for _, dir := range args {
				if err := c.Add(cmd.Context(), dir); err != nil {
					return err
				}
			}
			res := c.Result()
			if a.json {
				if err := a.printJSON(res); err != nil {
					return err
				}
			} else {
				a.printComparison(res, c.Doubt())
			}
			if out != "" || a.markdown != "" {
				if err := a.writeComparison(cmd.Context(), &c, out); err != nil {
					return err
				}
			}
			switch {
			case res.Lockstep():
				return nil
			case c.Doubt() != "":
				return verdict(codeNothing)
			}
			return verdict(codeNot)
		},
	}
	c.Flags().StringVar(&out, "out", "", "folder for a report with the pictures on which the runs part")
	a.markdownFlag(c)
	return c
}

func (a *app) writeComparison(ctx context.Context, c *harness.Comparison, out string) error {
	s, err := c.Report(ctx, version)
	if err != nil {
		return err
	}
	if out != "" {
		if err := os.MkdirAll(out, 0o755); err != nil {
			return usageError{fmt.Errorf("%s: %w", out, cause(err))}
		}
	}
	page, err := a.writeSession(s, out)
	if err != nil {
		return err
	}
	if !a.json && out != "" {
		fmt.Fprintf(a.out, "report: %s\n", page)
	}
	return nil
}

func (a *app) printComparison(r lockstep.Result, doubt string) {
	switch {
	case r.Lockstep():
		fmt.Fprintf(a.out, "in lockstep: %d runs show the same picture on the same frame, over %d frames (%d comparisons of a frame had no picture)\n", len(r.Runs), r.Frames, r.Unseen)
	default:
		d := r.Divergence
		if doubt != "" {
			fmt.Fprintf(a.out, "nothing can be said: %s\n", reports.Plain(doubt))
			fmt.Fprintf(a.out, "they seem to part: %s\n", reports.Plain(d.Why))
		} else {
			fmt.Fprintf(a.out, "not in lockstep: %s\n", reports.Plain(d.Why))
		}
		fmt.Fprintf(a.out, "first divergence: frame %d, read %d, kind %s, region %v, program line %d, points to: %s\n", d.Frame, d.Read, d.Kind, d.Region, r.Line, d.Part)
		for i, f := range r.Families {
			fmt.Fprintf(a.out, "family %d, from frame %d: %s\n", i+1, f.From, reports.Plain(strings.Join(f.Runs, ", ")))
		}
	}
	if n := len(r.Suspects); n > 0 {
		fmt.Fprintf(a.out, "note: %d differences on single frames were not confirmed by the frames after them\n", n)
	}
	for _, w := range r.Warnings {
		fmt.Fprintf(a.out, "note: %s\n", reports.Plain(w))
	}
}
