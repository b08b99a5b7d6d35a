package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"latchproof/harness"
	"latchproof/harness/checks"
	"latchproof/harness/clock"
	"latchproof/harness/judge"
	"latchproof/harness/record"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/vision"
)

// importing is the flags of the command.
type importing struct {
	profile, reads, anchor, bench, active, fields, out string
}

func (a *app) importCommand() *cobra.Command {
	var f importing
	c := &cobra.Command{
		Use:   "import VIDEO --out RUN",
		Short: "Make a run from a recording",
		Long: strings.TrimSpace(`
Makes a sealed run folder from anybody's video: the file is copied as it is,
never encoded again, decoded once, and its screens are kept in short, so that it
can be judged and compared like a run of one's own.

The frame count needs an anchor: --anchor FRAME=TEMPLATE says that the first
picture that shows the template is of that console frame. Without a read log the
clock is "assumed" (the profile's nominal rate from the anchor on), and every
verdict says so. A read log (--reads) gives the true rate, the lag frames and
the frames of marks; its place in the video still comes from the anchor.

The pictures' times are those of the file, exact to its time base; a variable
picture rate is accepted. A capture woven of two fields needs --fields top or
bottom, the one that is first in time: each field is then a picture of its own.`),
		Example: "  latchproof import run.mkv --console ntsc-8bit --anchor 62=gate.png --active 32,0,576,480 --out their-run",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if f.out == "" {
				return usageError{errors.New("latchproof import: --out is needed")}
			}
			return a.importRun(cmd, args[0], f)
		},
	}
	c.Flags().StringVar(&f.profile, "console", "ntsc-8bit", "console profile: a built-in name or a file")
	c.Flags().StringVar(&f.reads, "reads", "", "read log of the run (reads.csv)")
	c.Flags().StringVar(&f.anchor, "anchor", "", "FRAME=TEMPLATE: the first picture that shows this PNG is of this console frame")
	c.Flags().StringVar(&f.active, "active", "", "where the console's raster lies in the picture, pixels: x,y,w,h (default: all of it)")
	c.Flags().StringVar(&f.fields, "fields", "", "which field of a woven picture is the first in time: none, top or bottom")
	c.Flags().StringVar(&f.bench, "bench", "", "bench file whose card made the recording, for its active picture and fields")
	c.Flags().StringVar(&f.out, "out", "", "run folder to make (needed)")
	return c
}

func (a *app) importRun(cmd *cobra.Command, video string, f importing) (err error) {
	profile, err := console.Load(f.profile, ".")
	if err != nil {
		return err
	}
	in := judge.Input{Console: profile}
	if in.Anchor, err = parseAnchor(f.anchor); err != nil {
		return err
	}
	info := harness.BenchInfo{Name: "imported recording"}
	if f.bench != "" {
		b, err := a.openBench(f.bench)
		if err != nil {
			return err
		}
		info = b.Describe()
		// The instants of an imported file are not on the host's clock, so the
		// calibrated latency says nothing about it.
		info.Latency, info.LatencyHalf = 0, 0
	}
	if f.active != "" {
		if info.Active, err = parseRect(f.active); err != nil {
			return err
		}
	}
	switch fields := judge.Fields(f.fields); fields {
	case "":
	case judge.NoFields, judge.TopFirst, judge.BottomFirst:
		info.Fields = fields
	default:
		return usageError{fmt.Errorf("--fields %q is not none, top or bottom", f.fields)}
	}
	in.Active, in.Fields = info.Active, info.Fields
	if f.reads != "" {
		src, err := readSmall(f.reads)
		if err != nil {
			return err
		}
		if in.Latches, err = record.ParseReads(f.reads, src); err != nil {
			return err
		}
	}
	// A file that is no video is refused before anything is written.
	scan, err := vision.ScanVideo(video)
	if err != nil {
		return err
	}
	info.CaptureRate = judge.Rate(scan.Stamps)

	bench, err := json.Marshal(info)
	if err != nil {
		return err
	}
	w, err := record.Create(f.out, record.Meta{
		Console: record.FromProfile(profile), Bench: bench, Repeat: 1,
		Versions: map[string]string{"latchproof": version}, Started: time.Now().UTC(),
	}, nil, nil)
	if err != nil {
		return fmt.Errorf("%s: %w", f.out, plain(err))
	}
	watched, err := a.watchImport(cmd, w, video, in)
	if err != nil {
		return errors.Join(err, w.Abort("while the recording was imported", err.Error()))
	}
	return a.imported(f.out, watched)
}

func (a *app) watchImport(cmd *cobra.Command, w *record.Writer, video string, in judge.Input) (*judge.Watched, error) {
	if err := w.WriteFile(record.CaptureFile, func(dst io.Writer) error { return copyFile(dst, video) }); err != nil {
		return nil, err
	}
	for _, l := range in.Latches {
		if err := w.AppendLatch(l); err != nil {
			return nil, err
		}
	}
	in.Video = w.Path(record.CaptureFile)
	p := a.progress()
	p.Stage("import", 1, 1, "watching", 0)
	in.Progress = func(k int) { p.Advance(int64(k)) }
	var watched *judge.Watched
	err := w.WriteFile(record.TraceFile, func(out io.Writer) (err error) {
		in.Trace = out
		watched, err = judge.Watch(cmd.Context(), in)
		return err
	})
	p.clear()
	if err != nil {
		return nil, err
	}
	for _, problem := range watched.Problems {
		w.Damage(problem)
	}
	if err := w.SetFrames(watched.Rows); err != nil {
		return nil, err
	}
	summary, err := json.Marshal(watched.Clock.Summary())
	if err != nil {
		return nil, err
	}
	return watched, w.Seal(record.Result{Ended: time.Now().UTC(), Clock: summary})
}

func (a *app) imported(dir string, w *judge.Watched) error {
	s := w.Clock.Summary()
	if a.json {
		err := a.printJSON(map[string]any{"run": dir, "clock": s, "captured": w.Counts, "problems": notNil(w.Problems)})
		if err != nil {
			return err
		}
	} else {
		fmt.Fprintf(a.out, "%s: %d pictures, %d frames, %d of them unseen; clock %s\n", dir, w.Counts.Pictures, w.Counts.Frames, w.Counts.Unseen, s.State)
		if s.Why != "" {
			fmt.Fprintf(a.out, "  clock: %s\n", s.Why)
		}
		for _, p := range w.Problems {
			fmt.Fprintf(a.out, "  note: %s\n", p)
		}
	}
	if s.State == clock.Untrusted {
		return verdict(codeNothing)
	}
	return nil
}

func notNil(s []string) []string {
	if s == nil {
		return []string{}
	}
	return s
}

// parseAnchor reads FRAME=TEMPLATE; an empty text is no anchor.
func parseAnchor(text string) (*specs.Anchor, error) {
	if text == "" {
		return nil, nil
	}
	frame, file, ok := strings.Cut(text, "=")
	n, err := strconv.ParseInt(frame, 10, 64)
	if !ok || err != nil || n < 0 || file == "" {
		return nil, usageError{fmt.Errorf("--anchor %q is not FRAME=TEMPLATE, such as 62=gate.png", text)}
	}
	t, err := vision.LoadTemplate(file)
	if err != nil {
		return nil, fmt.Errorf("--anchor: %w", err)
	}
	return &specs.Anchor{Frame: console.Frame(n), Kind: "shows", Check: checks.NewShows(t, nil, checks.DefaultScore)}, nil
}

func copyFile(dst io.Writer, path string) error {
	src, err := os.Open(path)
	if err != nil {
		return plain(err)
	}
	defer src.Close()
	_, err = io.Copy(dst, src)
	return err
}
