package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"latchproof/harness/stats"
)

// repeatsNeeded is what `repeats --json` prints.
type repeatsNeeded struct {
	Below      float64 `json:"below"`
	Confidence float64 `json:"confidence"`
	Repeats    int64   `json:"repeats"`
}

func (a *app) repeatsCommand() *cobra.Command {
	below, confidence := "1%", "95%"
	c := &cobra.Command{
		Use:   "repeats",
		Short: "Say how many clean repeats a claim needs",
		Long: strings.TrimSpace(`
Prints how many repeats, all of them clean, are needed to claim with a confidence
that fewer than a given share of repeats part: the smallest n for which
(1 - rate)^n is at most 1 - confidence. The reference is not one of them. Fix the
number before you play; 'play --until' plays until a claim is told and may be
looked at after every repeat.

Rates and confidences are written as 1%, 0.01 or "1 in 100".`),
		Example: "  latchproof repeats --below 1% --confidence 95%",
		Args:    cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			claim, err := stats.ParseClaim("divergence below " + below + " at " + confidence)
			if err != nil {
				return usageError{err}
			}
			n, err := stats.RepeatsNeeded(claim.Below, claim.Confidence)
			if err != nil {
				return usageError{err}
			}
			if a.json {
				return a.printJSON(repeatsNeeded{claim.Below, claim.Confidence, n})
			}
			fmt.Fprintf(a.out, "%d clean repeats, and the reference before them, show a %s\n", n, claim)
			return nil
		},
	}
	c.Flags().StringVar(&below, "below", below, "the rate that is to be shown not to be reached")
	c.Flags().StringVar(&confidence, "confidence", confidence, "how sure it must be")
	return c
}
