package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"latchproof/harness/readtiming"
	"latchproof/harness/record"
)

func (a *app) timingCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "timing RUN...",
		Short: "Say how steadily a console was read and how fast the board served it",
		Long: strings.TrimSpace(`
Studies the read logs of sealed runs; no video is needed. Prints, for each run:
the console's frame rate against its profile's, and by whose clock; the jitter of
the reads; how far apart they are, with a histogram; how fast the board had the
first bit on the line, where the board tells it; and a sentence about everything
odd, with its reads and what to look at: clock pulses that are no multiple of 8,
underruns, reads served late, lost log records, frames without a read, double
reads, reads too many.

With --json an object {"run": ..., "timing": ...} is printed for each run, one
after another; the names of its numbers end in their units.

Exit status 0 says that nothing is odd about the board; 1 that something is: extra
clock pulses, underruns, late serves or lost log records (frames without a read
and double reads are mostly the game's own doing, and are only told); 2 bad input;
3 that nothing can be said, since a run is partial or damaged, has no read log, or
its reads keep to no frame grid. Of several runs, 3 outweighs 1.`),
		Example: "  latchproof timing runs/first-lamp/run-001\n  latchproof timing --json runs/first-lamp/run-*",
		Args:    cobra.MinimumNArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			code := codeHeld
			for _, dir := range args {
				board, err := a.timing(dir)
				switch {
				case err != nil && exitCode(err) != codeNothing && !errors.Is(err, errUntold):
					return err
				case err != nil:
					fmt.Fprintf(a.err, "latchproof: %v\n", err)
					code = codeNothing
				case board && code == codeHeld:
					code = codeNot
				}
			}
			return verdict(code)
		},
	}
}

// errUntold marks what leaves nothing to say about a sound run.
var errUntold = errors.New("nothing can be said")

// timing prints the study of one run and says whether something is odd about the
// board.
func (a *app) timing(dir string) (board bool, err error) {
	r, err := record.OpenFiles(dir, record.ReadsFile)
	if err != nil {
		return false, err
	}
	s, err := readtiming.OfRun(r)
	if err != nil && s.Untold == "" {
		if errors.Is(err, readtiming.ErrNoLog) {
			return false, fmt.Errorf("%w: %w", errUntold, err)
		}
		return false, err
	}
	if a.json {
		if e := a.printJSON(map[string]any{"run": dir, "timing": s}); e != nil {
			return false, e
		}
	} else {
		fmt.Fprintf(a.out, "%s:\n", dir)
		s.Print(a.out)
	}
	if err != nil {
		return false, fmt.Errorf("%w: %w", errUntold, err)
	}
	return s.Board(), nil
}
