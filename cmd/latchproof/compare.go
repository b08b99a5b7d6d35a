package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"latchproof/harness"
	"latchproof/harness/clock"
	"latchproof/harness/lockstep"
	"latchproof/specs/program"
)

func (a *app) compareCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "compare RUN RUN...",
		Short: "Say whether runs show the same picture on the same frame, and where they part",
		Long: strings.TrimSpace(`
Compares sealed runs by their traces and read logs; no video is decoded, unless a
trace is damaged: then it is rebuilt from the run's video, elsewhere, and a note
says so. Prints
the families of runs that stayed in lockstep and the first divergence: its frame,
its read, its kind (input: the read logs differ first; picture: same reads,
different picture; end: one run stops early) and the region that differs. Each
run is compared with the first one, and those that part with each other.

Runs whose frame clock is assumed (imported without a calibrated bench) may have
every frame one off: that they stay in lockstep still counts, but when they part
nothing can be said, and the exit status is 3.`),
		Example: "  latchproof compare runs/first-lamp/run-*",
		Args:    cobra.MinimumNArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			var prog *program.Program
			tree := lockstep.NewTree(lockstep.Options{LineOf: func(r program.Read) int {
				if prog == nil {
					return 0
				}
				return prog.LineAt(r)
			}})
			var assumed, warnings []string
			for i, dir := range args {
				run, err := harness.OpenTraced(cmd.Context(), dir)
				if err != nil {
					return err
				}
				defer run.Close()
				if i == 0 {
					prog = programOf(run.Record, run.Record.Meta.Console.Profile())
				}
				if run.Clock.State == clock.Assumed {
					assumed = append(assumed, dir)
				}
				if run.Warning != "" {
					warnings = append(warnings, run.Warning)
				}
				if err := tree.Add(run.Run); err != nil {
					return fmt.Errorf("%s: %w", dir, err)
				}
			}
			res := tree.Result()
			res.Warnings = append(res.Warnings, warnings...)
			if len(assumed) > 0 {
				res.Warnings = append(res.Warnings, fmt.Sprintf("the frame clock of %s is assumed: its frames may be one off, so a divergence may be no more than that", strings.Join(assumed, ", ")))
			}
			if a.json {
				if err := a.printJSON(res); err != nil {
					return err
				}
			} else {
				a.printComparison(res)
			}
			switch {
			case res.Lockstep():
				return nil
			case len(assumed) > 0:
				return verdict(codeNothing)
			}
			return verdict(codeNot)
		},
	}
}

func (a *app) printComparison(r lockstep.Result) {
	if r.Lockstep() {
		fmt.Fprintf(a.out, "in lockstep: %d runs show the same picture on the same frame, over %d frames (%d comparisons of a frame had no picture)\n", len(r.Runs), r.Frames, r.Unseen)
	} else {
		d := r.Divergence
		fmt.Fprintf(a.out, "not in lockstep: %s\n", d.Why)
		fmt.Fprintf(a.out, "first divergence: frame %d, read %d, kind %s, region %v, program line %d\n", d.Frame, d.Read, d.Kind, d.Region, r.Line)
		for i, f := range r.Families {
			fmt.Fprintf(a.out, "family %d, from frame %d: %s\n", i+1, f.From, strings.Join(f.Runs, ", "))
		}
	}
	if n := len(r.Suspects); n > 0 {
		fmt.Fprintf(a.out, "note: %d differences on single frames were not confirmed by the frames after them\n", n)
	}
	for _, w := range r.Warnings {
		fmt.Fprintf(a.out, "note: %s\n", w)
	}
}
