package main

import (
	"context"
	"errors"
	"fmt"

	"latchproof/fixtures/campaign"
)

// sight measures how exactly templates are placed and digits read.
func (a *app) sight(ctx context.Context, o campaign.Options) error {
	if o.Workers < 1 {
		return usageError{errors.New("--workers counts from 1")}
	}
	bar := a.scoreBar(o.Readings, "readings")
	o.Progress = func(done, _ int64) { _ = bar.Set64(done) }
	r, err := campaign.Sight(ctx, o)
	_ = bar.Clear()
	switch {
	case r == nil && errors.Is(err, campaign.ErrOptions):
		return usageError{err}
	case r == nil:
		return err
	}
	if a.json {
		err = errors.Join(err, a.printJSON(r))
	} else if r.Total.Groups > 0 {
		r.Print(a.out)
	}
	switch {
	case ctx.Err() != nil:
		fmt.Fprintf(a.err, "latchproof: score: interrupted after %d readings\n", r.Total.Readings)
		return verdict(codeNothing)
	case err != nil:
		fmt.Fprintf(a.err, "latchproof: score: the bench failed: %v\n", err)
		return verdict(codeNothing)
	case !r.Met():
		return verdict(codeNot)
	}
	return nil
}
