package main

import (
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"latchproof/harness"
	"latchproof/harness/calibrate"
	"latchproof/harness/checks"
	"latchproof/specs"
	"latchproof/vision/screen"
)

// What is played on the simulated bench when no spec is given. check.png is the
// game's own picture at the gate (benchcheck_test.go makes and compares it).
//
//go:embed benchcheck
var ownCheck embed.FS

// benchChecking is the flags of the command.
type benchChecking struct {
	bench, spec, reference, out, mark string
	write                             bool
	repeats, answerFrames             int
}

func (a *app) benchCheckCommand() *cobra.Command {
	var f benchChecking
	c := &cobra.Command{
		Use:   "check",
		Short: "Try a bench: link, reads, card, picture, latency, noise, colour",
		Long: strings.TrimSpace(`
Plays a short program again and again, with and without its marked presses, and
tries the bench itself: the link to the board, the console's reads, the card's
rate, lost, repeated and damaged pictures, where the picture lies and which fields
it has, the latency, noise and colour. Each finding has a verdict (ok, look at
this, cannot be used) and says what to do.

With --write what was measured is put into the bench file under ` + "`calibration`" + `, and
used by all commands from then on. Everything else in the file stays as it is.

The spec needs a program with a mark ` + "`answer`" + ` (or several: answer-a, answer-b) at a
press that the screen answers at once, with nothing left of it some frames later;
something that scrolls tells the fields; and a mark ` + "`colours`" + ` at a still scene if
there is a --reference, a PNG of the console's own raster at that moment. Its
checkpoints are not judged. The simulated bench has such a spec of its own.

The latency is told from the answer, so the game's own delay is taken for granted:
--answer-frames 1 when the picture of the read's own frame shows it, 2 for the
next one. One too many or too few shifts all frame numbers by one.

Exit status: 0 fine; 1 something to look at; 2 bad input or usage; 3 the bench
cannot be used.`),
		Example: "  latchproof bench check\n  latchproof bench check --bench workbench.yaml --spec answers.spec.yaml --repeats 5 --write",
		Args:    cobra.NoArgs,
		RunE:    func(cmd *cobra.Command, _ []string) error { return a.benchCheck(cmd, f) },
	}
	c.Flags().StringVar(&f.bench, "bench", "", "bench file; the built-in simulated bench when not given")
	c.Flags().StringVar(&f.spec, "spec", "", "spec with the program to play; the simulated bench has its own")
	c.Flags().StringVar(&f.reference, "reference", "", "PNG of the raster as the console makes it at the mark `colours`")
	c.Flags().StringVar(&f.out, "out", "", "folder for captures, read logs and bench-check.json; default: nothing is kept")
	c.Flags().StringVar(&f.mark, "mark", calibrate.AnswerMark, "name of the marks at the presses")
	c.Flags().BoolVar(&f.write, "write", false, "write the calibration into the bench file")
	c.Flags().IntVar(&f.repeats, "repeats", 3, "how often to play each of the two programs, 2 or more")
	c.Flags().IntVar(&f.answerFrames, "answer-frames", 1, "in which picture after the press the game answers, 1 to 60")
	return c
}

func (a *app) benchCheck(cmd *cobra.Command, f benchChecking) error {
	switch {
	case f.write && f.bench == "":
		return usageError{errors.New("--write needs a bench file to write into: --bench FILE")}
	case f.repeats < 2 || f.repeats > 1000:
		return usageError{errors.New("--repeats: want 2 to 1000")}
	case f.answerFrames < 1 || f.answerFrames > 60:
		return usageError{errors.New("--answer-frames: want 1 to 60")}
	}
	b, err := a.openBench(f.bench)
	if err != nil {
		return err
	}
	o := calibrate.Options{Bench: b, Repeats: f.repeats, AnswerFrames: f.answerFrames, Mark: f.mark}
	if err := f.load(&o); err != nil {
		return err
	}
	if f.out == "" {
		dir, err := os.MkdirTemp("", "latchproof-bench-check-")
		if err != nil {
			return err
		}
		defer os.RemoveAll(dir)
		o.Dir = dir
	} else {
		if o.Dir, err = sessionFolder(f.out); err != nil {
			return err
		}
		if occupied(o.Dir) {
			return usageError{fmt.Errorf("%s is not empty, and nothing is ever overwritten; name another folder with --out", o.Dir)}
		}
	}
	p := a.progress()
	o.Progress = func(what string, done, total int) {
		p.Stage("bench check", min(done+1, total), total, what, 0)
	}
	r, err := calibrate.Check(cmd.Context(), o)
	p.clear()
	if err != nil {
		return err
	}
	written := false
	if f.write && r.Calibration != nil && r.Calibration.LatencyHalf > 0 {
		if err := harness.WriteCalibration(f.bench, r.Calibration); err != nil {
			return err
		}
		written = true
	}
	if err := a.tellBench(r, f, written); err != nil {
		return err
	}
	return verdict(r.Code())
}

// load loads the spec and the reference.
func (f benchChecking) load(o *calibrate.Options) error {
	file := f.spec
	if file == "" {
		if !o.Bench.Describe().Simulated {
			return usageError{errors.New("a real bench needs --spec: a spec whose program has a mark `answer` at a press that the screen answers (see `latchproof bench check --help`)")}
		}
		dir, err := os.MkdirTemp("", "latchproof-bench-spec-")
		if err != nil {
			return err
		}
		defer os.RemoveAll(dir)
		own, err := fs.Sub(ownCheck, "benchcheck")
		if err != nil {
			return err
		}
		if err := os.CopyFS(dir, own); err != nil {
			return err
		}
		file = filepath.Join(dir, "check.spec.yaml")
		if f.reference == "" {
			f.reference = filepath.Join(dir, "check.png")
		}
	}
	s, err := specs.Load(file, checks.All)
	if err != nil {
		return fmt.Errorf("the spec is not sound:\n%w", err)
	}
	o.Spec = s
	if f.reference == "" {
		return nil
	}
	ref, _, err := screen.LoadPNG(f.reference)
	if err != nil {
		return err
	}
	if ref.W != s.Console.Width || ref.H != s.Console.Height {
		return fmt.Errorf("%s: a picture of %dx%d; the raster of %s has %dx%d", f.reference, ref.W, ref.H, s.Console.Name, s.Console.Width, s.Console.Height)
	}
	o.Reference = ref
	return nil
}

// benchReport is what `bench check --json` prints.
type benchReport struct {
	*calibrate.Report
	Verdict     string               `json:"verdict"` // the sentence
	Exit        int                  `json:"exit"`
	Calibration *harness.Calibration `json:"calibration"` // nil: nothing could be measured
	Written     bool                 `json:"written"`
}

func (a *app) tellBench(r *calibrate.Report, f benchChecking, written bool) error {
	j, err := json.MarshalIndent(benchReport{r, r.Sentence(), r.Code(), r.Calibration, written}, "", "  ")
	if err != nil {
		return err
	}
	j = append(j, '\n')
	if f.out != "" {
		if err := os.WriteFile(filepath.Join(f.out, "bench-check.json"), j, 0o666); err != nil {
			return err
		}
	}
	if a.json {
		_, err := a.out.Write(j)
		return err
	}
	w := tabwriter.NewWriter(a.out, 0, 0, 2, ' ', 0)
	for _, x := range r.Findings {
		fmt.Fprintf(w, "%s\t%s\t%s\n", x.ID, x.Verdict, x.Measured)
		if x.Advice != "" {
			fmt.Fprintf(w, "\t\t-> %s\n", x.Advice)
		}
	}
	w.Flush()
	fmt.Fprintf(a.out, "%s: %s\n", r.Bench.Name, r.Sentence())
	switch {
	case written:
		fmt.Fprintf(a.out, "The calibration is in %s.\n", f.bench)
	case f.write:
		fmt.Fprintf(a.out, "Nothing was written into %s, because the latency could not be measured.\n", f.bench)
	}
	return nil
}
