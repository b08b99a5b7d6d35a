package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
)

// app is what the commands share.
type app struct {
	out, err io.Writer
	json     bool
	quiet    bool
	markdown string    // where the summary in Markdown goes; - for piped
	piped    io.Writer // standard output, when out is standard error
}

// run runs one command line and gives the exit code.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	a := &app{out: shield{stdout}, err: shield{stderr}}
	root := a.root()
	root.SetArgs(args)
	root.SetOut(stdout)
	root.SetErr(stderr)
	err := root.ExecuteContext(ctx)
	code := exitCode(err)
	if err != nil && !errors.As(err, new(verdictError)) {
		fmt.Fprintf(a.err, "latchproof: %v\n", err)
		if code == codeUsage && isUsage(err) {
			fmt.Fprintln(stderr, "latchproof: try `latchproof help`")
		}
	}
	return code
}

func (a *app) root() *cobra.Command {
	root := &cobra.Command{
		Use:   "latchproof",
		Short: "Plays button programs on a console bench and says whether the repeats were frame-exact",
		Long: strings.TrimSpace(`
Plays a button program into a game console through a feeder board, watches the
console's picture, judges every checkpoint of a spec at its frame, repeats, and
says whether the repeats were frame-exact and, if not, on which frame they part
and why.

  latchproof demo                       the whole job on the built-in simulated bench
  latchproof lint my.spec.yaml          is the spec sound?
  latchproof play my.spec.yaml          play it, judge it, compare the repeats
  latchproof import run.mkv --out RUN   make a run of anybody's video
  latchproof judge RUN --spec SPEC      judge a recorded run again
  latchproof compare RUN RUN...         do these runs show the same picture on the same frame?
  latchproof play --until "divergence below 1% at 95%" my.spec.yaml
                                        repeat until that is proven or refuted
  latchproof baseline check BASE        is the changed bench worse than the one before?
  latchproof certify CLAIM --house DIR  play a submitted claim, decide, sign the evidence
  latchproof verify FILE.bundle         check a certificate from its evidence
  latchproof timing RUN                 when did the console read, and was it served in time?
  latchproof shrink my.spec.yaml        the shortest program that still goes wrong
  latchproof look RUN --sheet -o PNG    what was on the screen; then template cut, find, draft
  latchproof records --book BOOK        the best of a record book, and proofs of what is in it
  latchproof bench check --bench FILE   try the bench itself, and calibrate it
  latchproof key new FILE               make the key that certificates are signed with

Exit status: 0 all held; 1 something did not hold; 2 bad input or usage; 3 the
bench or the evidence failed, so nothing can be said (unseen, damaged,
disconnected).

Caution: replays can flash. Do not watch one played fast if flashing pictures
can harm you. Wire a bench with low-voltage signal lines only, disconnect power
first, and never open mains-powered equipment or a picture-tube display.`),
		Version:           version,
		SilenceErrors:     true,
		SilenceUsage:      true,
		DisableAutoGenTag: true,
		Args:              cobra.NoArgs,
		PersistentPreRun: func(*cobra.Command, []string) {
			if a.json {
				a.out = bare(a.out)
			}
		},
		RunE: func(cmd *cobra.Command, _ []string) error {
			return cmd.Help()
		},
	}
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return usageError{err} })
	root.PersistentFlags().BoolVar(&a.json, "json", false, "print the result as JSON on standard output")
	root.PersistentFlags().BoolVarP(&a.quiet, "quiet", "q", false, "no progress on standard error")
	root.AddCommand(
		a.lintCommand(), a.convertCommand(), a.playCommand(), a.repeatsCommand(), a.importCommand(), a.judgeCommand(),
		a.lookCommand(), a.findCommand(), a.draftCommand(),
		a.compareCommand(), a.templateCommand(), a.demoCommand(), a.scoreCommand(), a.benchCommand(), a.timingCommand(), a.certifyCommand(), a.verifyCommand(),
		a.baselineCommand(), a.shrinkCommand(), a.reportCommand(), a.keyCommand(), a.recordsCommand(),
	)
	usageArgs(root)
	return root
}

// usageArgs makes wrong arguments of every command usage errors.
func usageArgs(c *cobra.Command) {
	if check := c.Args; check != nil {
		c.Args = func(cmd *cobra.Command, args []string) error {
			if err := check(cmd, args); err != nil {
				return usageError{fmt.Errorf("%s: %w", cmd.CommandPath(), err)}
			}
			return nil
		}
	}
	for _, sub := range c.Commands() {
		usageArgs(sub)
	}
}
