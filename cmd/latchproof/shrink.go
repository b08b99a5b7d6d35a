package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"latchproof/harness"
	"latchproof/specs"
)

func (a *app) shrinkCommand() *cobra.Command {
	var bench, out, confidence, rate string
	var perStep int64
	var budget time.Duration
	var anyKind bool
	c := &cobra.Command{
		Use:   "shrink SPEC",
		Short: "Reduce a program whose repeats part to a short one whose repeats still part",
		Long: strings.TrimSpace(`
Plays the program of a spec until it has been seen to part and how often, and
then looks for a shorter one that still parts: cut after the first divergence,
without statements (delta debugging, level by level into repeats), with shorter
holds, without buttons, with fewer passes of repeats. It ends when nothing single
can be taken out any more, or when the budget is used up. Checkpoints and the
anchor are left aside, so the bench must be calibrated.

A candidate parts when one repeat surely parts from its first run, with the same
kind of divergence as the original (input, picture, shift, end; with --any-kind
in any way). It is turned down when none of so many repeats does that one which
parts as the original does would be turned down with a chance of 5 % at most (or
what --confidence leaves). "As the original does" is the lower 95 % limit of the
share of the original's runs that are unlike the largest group of like ones, or
--rate. A low rate makes every step dear: a program that parts in one of a
hundred runs takes 300 repeats for each candidate turned down.

The shortest program is played anew, and these files are written into the output
folder:

  NAME-short.prog        the program; marks and comments stay with their statements
  NAME-short.spec.yaml   a spec that judges lockstep alone
  shrink.json            every step: what was tried, reads, repeats, outcome

Exit status: 0 reduced; 2 bad input; 3 it was not seen to part, or the bench
failed, so nothing can be said.`),
		Example: "  latchproof shrink hasty.spec.yaml\n  latchproof shrink --bench workbench.yaml --rate 50% --budget 2h --out short hasty.spec.yaml",
		Args:    cobra.ExactArgs(1),
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return []string{"yaml", "yml"}, cobra.ShellCompDirectiveFilterFileExt
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			s := &harness.Shrinker{Version: version, PerStep: perStep, Budget: budget, AnyKind: anyKind}
			var err error
			if s.Confidence, err = shareOf(confidence); err != nil {
				return usageError{fmt.Errorf("--confidence: %w", err)}
			}
			if rate != "" {
				if s.Rate, err = shareOf(rate); err != nil {
					return usageError{fmt.Errorf("--rate: %w", err)}
				}
			}
			switch {
			case perStep < 0 || perStep == 0 && cmd.Flags().Changed("repeats-per-step"):
				return usageError{fmt.Errorf("--repeats-per-step: %d is not 1 or more", perStep)}
			case budget <= 0:
				return usageError{fmt.Errorf("--budget: %s is no time", budget)}
			}
			list, err := loadSpecs(args)
			if err != nil {
				return err
			}
			if s.Bench, err = a.openBench(bench); err != nil {
				return err
			}
			if s.Out, err = shrinkFolder(out, list[0]); err != nil {
				return err
			}
			if !a.quiet {
				s.Log = func(line string) { fmt.Fprintln(a.err, line) }
			}
			res, err := s.Shrink(cmd.Context(), list[0])
			if res == nil {
				return err
			}
			return a.tellShrunk(res, s.Out, err)
		},
	}
	c.Flags().StringVar(&bench, "bench", "", "bench file; the built-in simulated bench when not given")
	c.Flags().StringVar(&confidence, "confidence", "95%", "confidence with which a candidate is turned down")
	c.Flags().StringVar(&rate, "rate", "", "rate of parting that candidates are tested for; what the original shows when not given, which is played for 20%")
	c.Flags().Int64Var(&perStep, "repeats-per-step", 0, "how often a candidate is played against its first run at the most, instead of what follows from rate and confidence")
	c.Flags().DurationVar(&budget, "budget", 30*time.Minute, "time after which no further candidate is tried")
	c.Flags().StringVar(&out, "out", "", "output folder; default shrunk/ and the time")
	c.Flags().BoolVar(&anyKind, "any-kind", false, "let a candidate part in any way, not only as the original does")
	return c
}

// shareOf reads a share between 0 and 1, "5%" or "0.05".
func shareOf(s string) (float64, error) {
	number, percent := strings.CutSuffix(strings.TrimSpace(s), "%")
	x, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	if percent {
		x /= 100
	}
	if err != nil || math.IsNaN(x) || x <= 0 || x >= 1 {
		return 0, fmt.Errorf("%q is not a share between 0 and 100 %%, such as 95%% or 0.95", s)
	}
	return x, nil
}

// shrinkFolder makes the output folder. Nothing in it is overwritten.
func shrinkFolder(out string, s *specs.Spec) (string, error) {
	if out == "" {
		out = filepath.Join("shrunk", time.Now().Format("20060102-150405"))
	}
	out, err := sessionFolder(out)
	if err != nil {
		return "", err
	}
	program, spec, steps := harness.ShrunkFiles(s)
	for _, name := range []string{program, spec, steps} {
		if _, err := os.Lstat(filepath.Join(out, name)); err == nil {
			return "", usageError{fmt.Errorf("%s is there already, and results are never overwritten; name another folder with --out", filepath.Join(out, name))}
		}
	}
	return out, nil
}

// tellShrunk prints what a search came to; broken is what ended it.
func (a *app) tellShrunk(res *harness.Shrunk, out string, broken error) error {
	if res.Result == nil {
		_ = os.Remove(out) // it is empty unless it was there before
	}
	if a.json {
		if err := a.printJSON(res); err != nil {
			return err
		}
	} else {
		fmt.Fprintf(a.out, "%s: %s\n", res.Spec, res.Verdict)
		for _, s := range res.Sentences {
			fmt.Fprintf(a.out, "  %s\n", s)
		}
		if res.Result != nil {
			fmt.Fprintf(a.out, "program: %s\nspec: %s\n", filepath.Join(out, res.Result.Program), filepath.Join(out, res.Result.Spec))
		}
	}
	switch {
	case broken != nil:
		return broken
	case res.Verdict != harness.Shrunken:
		return verdict(codeNothing)
	}
	return nil
}
