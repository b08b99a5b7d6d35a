package main

import (
	"fmt"
	"io"
	"os"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"
)

// progress shows how far a run has come on standard error: a bar on a
// terminal, one plain line for each finished repeat elsewhere.
type progress struct {
	w   io.Writer
	tty bool
	bar *progressbar.ProgressBar
}

func (a *app) progress() *progress {
	if a.quiet {
		return &progress{w: io.Discard}
	}
	p := &progress{w: a.err}
	if f, ok := bare(a.err).(*os.File); ok {
		p.tty = term.IsTerminal(int(f.Fd()))
	}
	return p
}

// Stage implements harness.Progress.
func (p *progress) Stage(spec string, repeat, repeats int, stage string, total int64) {
	if !p.tty {
		return
	}
	p.clear()
	if total <= 0 {
		total = -1
	}
	p.bar = progressbar.NewOptions64(total,
		progressbar.OptionSetWriter(bare(p.w)),
		progressbar.OptionSetDescription(fmt.Sprintf("%s %d/%d %s", spec, repeat, repeats, stage)),
		progressbar.OptionSetWidth(30),
		progressbar.OptionClearOnFinish(),
		progressbar.OptionSetPredictTime(false),
	)
}

// Advance implements harness.Progress.
func (p *progress) Advance(done int64) {
	if p.bar != nil {
		_ = p.bar.Set64(done)
	}
}

// Ended implements harness.Progress.
func (p *progress) Ended(spec string, repeat, repeats int, line string) {
	p.clear()
	fmt.Fprintf(p.w, "%s, repeat %d of %d: %s\n", spec, repeat, repeats, line)
}

func (p *progress) clear() {
	if p.bar != nil {
		_ = p.bar.Clear()
		p.bar = nil
	}
}
