package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/schollz/progressbar/v3"
	"github.com/spf13/cobra"

	"latchproof/fixtures/campaign"
	"latchproof/fixtures/trials"
)

func (a *app) scoreCommand() *cobra.Command {
	var o campaign.Options
	var replay string
	var campaigns int
	c := &cobra.Command{
		Use:   "score",
		Short: "Measure latchproof itself: random cases on the simulated bench against the truth",
		Long: strings.TrimSpace(`
Plays random cases on the simulated bench and holds what is told against what
really happened, which the bench knows to the frame. Every trouble of console,
board and card has its rows; in each case something is done to a second run at a
random read or frame, or nothing, and it is compared with a reference run.

Prints a table: per trouble and strength how many cases truly part, how many
were told on the exact frame, early, late, missed or falsely, how many were
called what they are, and how many frame labels of the captured pictures are
right; then the bars that are asked and whether they are met; then every case
that is not as asked. One seed gives one campaign.

With --campaigns the statistics are measured instead, on benches whose repeats
part by a law that is known exactly: how often intervals, survival curves, claims
and baseline checks are wrong, beside how often they may be.

Exit status 0 says that every bar is met for the cases run, 1 that one is not,
3 that the campaign was interrupted or the bench failed.`),
		Example: "  latchproof score --cases 1000\n  latchproof score --pairs 1000000\n  latchproof score --sights 10000\n  latchproof score --campaigns 2000\n  latchproof score --cases 60 --only noise --only torn\n  latchproof score --replay noise=20/00c0ffee00c0ffee/3 --keep case",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if replay != "" {
				return a.replay(cmd.Context(), replay, o.Keep)
			}
			if cmd.Flags().Changed("campaigns") {
				return a.tryStatistics(cmd.Context(), trials.Options{Campaigns: campaigns, Seed: o.Seed, Workers: o.Workers})
			}
			if cmd.Flags().Changed("sights") {
				return a.sight(cmd.Context(), o)
			}
			return a.score(cmd.Context(), o)
		},
	}
	f := c.Flags()
	f.IntVar(&o.Cases, "cases", 300, "how many cases")
	f.Uint64Var(&o.Seed, "seed", 1, "root of every random choice")
	f.StringArrayVar(&o.Only, "only", nil, "only this trouble (noise) or row (noise=20); may be given again")
	f.IntVar(&o.PerGroup, "group", campaign.DefaultGroup, "how many cases share one reference run")
	f.IntVar(&o.Workers, "workers", campaign.DefaultWorkers, "how many groups are played at once")
	f.Int64Var(&o.Pairs, "pairs", 0, "instead of cases: do nothing to any run, compare all of a group with one another, until this many pairs of equal frames were compared")
	f.Int64Var(&o.Readings, "sights", 0, "instead of cases: how exactly templates are placed and digits are read, under every trouble, until this many numbers were read")
	f.IntVar(&campaigns, "campaigns", 0, "instead of cases: how right the statistics are, on so many benches whose repeats part by a known law")
	f.StringVar(&o.Keep, "keep", "", "keep the run folders of cases that fail, or of the one replayed, in this folder")
	f.StringVar(&replay, "replay", "", "run this one case again, by the name that a campaign printed")
	for _, other := range []string{"cases", "only", "group", "pairs", "sights", "keep", "replay"} {
		c.MarkFlagsMutuallyExclusive("campaigns", other)
	}
	return c
}

// score runs a campaign.
func (a *app) score(ctx context.Context, o campaign.Options) error {
	if o.PerGroup < 1 || o.Workers < 1 {
		return usageError{errors.New("--group and --workers count from 1")}
	}
	total, what := int64(o.Cases), "cases"
	if o.Pairs > 0 {
		total, what = o.Pairs, "pairs"
	}
	bar := a.scoreBar(total, what)
	o.Progress = func(done, _ int64) { _ = bar.Set64(done) }
	r, err := campaign.Run(ctx, o)
	_ = bar.Clear()
	if r == nil {
		return noScore(err)
	}
	return a.scored(ctx, r, r.Total.Runs, fmt.Sprintf("%d cases", r.Total.Cases), err)
}

// sight measures how exactly templates are placed and digits read.
func (a *app) sight(ctx context.Context, o campaign.Options) error {
	if o.Workers < 1 {
		return usageError{errors.New("--workers counts from 1")}
	}
	bar := a.scoreBar(o.Readings, "readings")
	o.Progress = func(done, _ int64) { _ = bar.Set64(done) }
	r, err := campaign.Sight(ctx, o)
	_ = bar.Clear()
	if r == nil {
		return noScore(err)
	}
	return a.scored(ctx, r, r.Total.Groups+r.Total.Untold, fmt.Sprintf("%d readings", r.Total.Readings), err)
}

// tryStatistics measures the statistics.
func (a *app) tryStatistics(ctx context.Context, o trials.Options) error {
	if o.Workers < 1 {
		return usageError{errors.New("--workers counts from 1")}
	}
	bar := a.scoreBar(int64(o.Campaigns), "campaigns")
	o.Progress = func(done, _ int64) { _ = bar.Set64(done) }
	r, err := trials.Run(ctx, o)
	_ = bar.Clear()
	if r == nil {
		return noScore(err)
	}
	return a.scored(ctx, r, r.Campaigns, fmt.Sprintf("%d campaigns", r.Campaigns), err)
}

// noScore is why there is no result at all.
func noScore(err error) error {
	if errors.Is(err, campaign.ErrOptions) || errors.Is(err, trials.ErrOptions) {
		return usageError{err}
	}
	return err
}

// scored prints a result, of so many runs, and says how it ended: done is how far
// it came when it was interrupted.
func (a *app) scored(ctx context.Context, r interface {
	Print(io.Writer)
	Met() bool
}, runs int, done string, err error) error {
	if a.json {
		err = errors.Join(err, a.printJSON(r))
	} else if runs > 0 {
		r.Print(a.out)
	}
	switch {
	case ctx.Err() != nil:
		fmt.Fprintf(a.err, "latchproof: score: interrupted after %s\n", done)
		return verdict(codeNothing)
	case err != nil:
		fmt.Fprintf(a.err, "latchproof: score: the bench failed: %v\n", err)
		return verdict(codeNothing)
	case !r.Met():
		return verdict(codeNot)
	}
	return nil
}

// replay runs one case again.
func (a *app) replay(ctx context.Context, id, keep string) error {
	c, err := campaign.Replay(ctx, id, keep)
	switch {
	case errors.Is(err, campaign.ErrOptions):
		return usageError{err}
	case ctx.Err() != nil:
		fmt.Fprintln(a.err, "latchproof: score: interrupted")
		return verdict(codeNothing)
	case err != nil:
		fmt.Fprintf(a.err, "latchproof: score: the bench failed: %v\n", err)
		return verdict(codeNothing)
	}
	if a.json {
		if err := a.printJSON(c); err != nil {
			return err
		}
	} else {
		c.Describe(a.out)
	}
	if len(c.Fails) > 0 {
		return verdict(codeNot)
	}
	return nil
}

// scoreBar is a bar on a terminal and nothing elsewhere.
func (a *app) scoreBar(total int64, what string) *progressbar.ProgressBar {
	if !a.progress().tty || a.quiet {
		return progressbar.DefaultSilent(total)
	}
	return progressbar.NewOptions64(total,
		progressbar.OptionSetWriter(os.Stderr),
		progressbar.OptionSetDescription(what),
		progressbar.OptionSetWidth(30),
		progressbar.OptionShowCount(),
		progressbar.OptionClearOnFinish(),
	)
}
