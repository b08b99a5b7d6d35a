package main

import (
	"fmt"
	"io"
	"sync"

	"latchproof/harness"
	"latchproof/harness/judge"
	"latchproof/harness/live"
)

// liveText prints checkpoints as they fall. It implements harness.Live.
type liveText struct {
	mu sync.Mutex
	w  io.Writer
}

// liveText prints to standard output, or to standard error where that is for
// JSON.
func (a *app) liveText() *liveText {
	if a.json {
		return &liveText{w: a.err}
	}
	return &liveText{w: a.out}
}

// Fell implements harness.Live.
func (l *liveText) Fell(spec string, repeat, repeats int, f live.Finding) {
	l.mu.Lock()
	defer l.mu.Unlock()
	score := "     -"
	if f.Score != nil {
		score = fmt.Sprintf("%6.3f", *f.Score)
	}
	name := f.Name
	if f.Verdict == judge.Unseen {
		name += ": " + f.Why
	}
	fmt.Fprintf(l.w, "live  %s %d/%d  frame %5d  %-6s  %s  %s\n", spec, repeat, repeats, f.Frame, f.Verdict, score, name)
}

// Settled implements harness.Live.
func (l *liveText) Settled(spec string, repeat, repeats int, run *harness.Run) {
	l.mu.Lock()
	defer l.mu.Unlock()
	say := func(format string, a ...any) {
		fmt.Fprintf(l.w, "live  %s %d/%d  %s\n", spec, repeat, repeats, fmt.Sprintf(format, a...))
	}
	if run.EarlyWhy != "" {
		say("not judged live: %s", run.EarlyWhy)
	}
	if n := run.Account.Skipped; n > 0 {
		say("%d of %d pictures were not judged live, because the judging was behind", n, run.Account.Pictures)
	}
	differ := run.Differences()
	for _, d := range differ {
		say("differs from the final judgement: %s", d)
	}
	if len(differ) == 0 && len(run.Early) > 0 {
		say("the final judgement is the same in all %d checkpoints", len(run.Early))
	}
}
