package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"latchproof/fixtures/demo"
	"latchproof/fixtures/sim"
	"latchproof/harness"
	"latchproof/harness/checks"
	"latchproof/harness/lockstep"
	"latchproof/specs"
)

// missed is the read that the demo's third part loses in its third repeat: the
// lamplighter is running, so that a read late is a step behind.
const (
	missed       = 290
	missedRepeat = 3
)

func (a *app) demoCommand() *cobra.Command {
	var out string
	c := &cobra.Command{
		Use:   "demo",
		Short: "Show the whole job on the built-in simulated bench",
		Long: strings.TrimSpace(fmt.Sprintf(`
Plays three parts on a simulated bench, over a real serial line (a
pseudo-terminal) and through real video files:

  (a) a sound program, five repeats: all in lockstep
  (b) a hasty one, five repeats: they part, and are meant to, because it skips a
      wait and meets moths whose flight depends on power-on memory
  (c) the sound one again, with read %d lost in repeat %d: it parts, and is meant
      to, because the console was given other buttons

Then a stranger's claim of the sound program's time is played again, certified and
verified, and verified once more with one byte changed, which must be refused.

Exit status 0 says that all came out as they are meant to.`, missed, missedRepeat)),
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return a.demo(cmd.Context(), out) },
	}
	c.Flags().StringVar(&out, "out", "", "output folder; default demo-out/ and the time")
	a.markdownFlag(c)
	return c
}

// part is one part of the demo.
type part struct {
	folder, spec, title, note string
	bench                     func(*sim.Config)
	// meant says what came out otherwise than it is meant to; empty for
	// nothing.
	meant func(*harness.Case) string
}

var parts = []part{
	{
		folder: "a-sound", spec: "first-lamp", title: "(a) the sound program",
		note:  "meant to stay in lockstep, with every checkpoint passing although the card drops frames",
		bench: func(*sim.Config) {},
		meant: func(c *harness.Case) string {
			if c.Verdict() != harness.Held {
				return "it is meant to hold and does not"
			}
			return ""
		},
	},
	{
		folder: "b-hasty", spec: "hasty", title: "(b) the hasty program",
		note:  "meant to part: it meets the moths, whose flight depends on power-on memory",
		bench: func(c *sim.Config) { c.Console.PowerOn = sim.PowerOnFew },
		meant: func(c *harness.Case) string { return meantToPart(c, lockstep.KindPicture, -1) },
	},
	{
		folder: "c-missed-read", spec: "first-lamp", title: "(c) the sound program with one read lost",
		note: fmt.Sprintf("meant to part: the board is made to miss read %d in repeat %d", missed, missedRepeat),
		bench: func(c *sim.Config) {
			c.Troubles = append(c.Troubles, sim.Trouble{Name: "missed-read", Repeats: []int{missedRepeat}, At: []int64{missed}})
		},
		meant: func(c *harness.Case) string { return meantToPart(c, lockstep.KindInput, missed) },
	},
}

// meantToPart checks a divergence against what was put in.
func meantToPart(c *harness.Case, kind lockstep.Kind, read int64) string {
	d := c.Steps().Divergence
	switch {
	case d == nil:
		return "it is meant to part and stays in lockstep"
	case d.Kind != kind:
		return fmt.Sprintf("it is meant to part by %s and parts by %s", kind, d.Kind)
	case read >= 0 && int64(d.Read) != read:
		return fmt.Sprintf("it is meant to part at read %d and parts at read %d", read, d.Read)
	}
	return ""
}

func (a *app) demo(ctx context.Context, out string) error {
	out, err := demoFolder(out)
	if err != nil {
		return err
	}
	folder := filepath.Join(out, "specs")
	if err := demo.Write(folder); err != nil {
		return plain(err)
	}
	begun := time.Now()
	var cases []*harness.Case
	for _, p := range parts {
		s, err := specs.Load(filepath.Join(folder, p.spec+".spec.yaml"), checks.All)
		if err != nil {
			return err
		}
		cfg := sim.Default()
		p.bench(&cfg)
		b, err := simulated(cfg, "simulated bench of the demo")
		if err != nil {
			return err
		}
		c := harness.NewCase(s, &harness.Player{
			Bench: b, Out: filepath.Join(out, p.folder), Version: version, Progress: a.progress(), KeepScreens: true,
		})
		c.Title, c.Note = p.title, p.note
		cases = append(cases, c)
	}
	page, err := a.runTree("latchproof demo", cases, out, harness.TreeOptions{})
	if err != nil {
		return err
	}
	if ctx.Err() != nil {
		return verdict(codeNothing)
	}
	told, bad, err := a.demoCertificate(ctx, out, folder)
	if err != nil {
		return err
	}
	wrong := a.printDemo(cases, told, time.Since(begun), page)
	if bad != "" {
		fmt.Fprintf(a.err, "latchproof: demo: (d): %s\n", bad)
	}
	if wrong || bad != "" {
		return verdict(codeNot)
	}
	return nil
}

func (a *app) printDemo(cases []*harness.Case, told []string, took time.Duration, page string) (wrong bool) {
	runs := cases[0].Repeats // certified
	for i, p := range parts {
		runs += cases[i].Repeats
		if bad := p.meant(cases[i]); bad != "" {
			wrong = true
			fmt.Fprintf(a.err, "latchproof: demo: %s: %s\n", p.title, bad)
		}
	}
	if a.json {
		return wrong
	}
	fmt.Fprintln(a.out)
	if len(told) > 0 {
		fmt.Fprintf(a.out, "%s\n\n", demoTold(told))
	}
	if !wrong {
		fmt.Fprintln(a.out, "All three parts came out as they are meant to: (a) stays in lockstep, (b) and (c) part where the trouble was put in.")
	}
	fmt.Fprintf(a.out, "%d runs in %.0f s.\nreport: %s\n", runs, took.Seconds(), page)
	return wrong
}

// demoMark is the file by which a demo knows a folder as its own.
const demoMark = ".latchproof-demo"

// demoFolder makes the output folder. One that an earlier demo made is emptied;
// any other that is not empty is refused.
func demoFolder(out string) (string, error) {
	if out == "" {
		out = filepath.Join("demo-out", time.Now().Format("20060102-150405"))
	}
	entries, err := os.ReadDir(out)
	switch {
	case errors.Is(err, os.ErrNotExist):
	case err != nil:
		return "", plain(err)
	case len(entries) > 0:
		if _, err := os.Stat(filepath.Join(out, demoMark)); err != nil {
			return "", usageError{fmt.Errorf("%s is not empty and no demo made it; name another folder with --out", out)}
		}
		for _, e := range entries {
			if err := os.RemoveAll(filepath.Join(out, e.Name())); err != nil {
				return "", plain(err)
			}
		}
	}
	if out, err = sessionFolder(out); err != nil {
		return "", err
	}
	return out, os.WriteFile(filepath.Join(out, demoMark), nil, 0o666)
}
