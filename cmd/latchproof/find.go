package main

import (
	"context"
	"errors"
	"fmt"
	"image"
	"image/png"
	"os"
	"strconv"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"latchproof/harness/look"
	"latchproof/specs/console"
	"latchproof/vision"
	"latchproof/vision/screen"
)

// finding is the flags of the command.
type finding struct {
	near, from, to string
	within         int
	score          float64
}

func (a *app) findCommand() *cobra.Command {
	var f finding
	c := &cobra.Command{
		Use:   "find RUN TEMPLATE",
		Short: "List the frames and places of a run where a template shows",
		Long: strings.TrimSpace(`
Looks for a template, a PNG at the console's own raster, on every frame of a run
and lists the stretches of frames over which it shows: first and last frame, where
it was then, and the weakest score. A thing is followed while it moves. The
timeline has one character for so many frames: # it shows on all that were seen,
+ on some, . on none, ? no frame of them was seen.

Exit status: 0 it shows somewhere; 1 it shows on no frame that was seen; 3 no
frame was seen.`),
		Example: strings.Trim(`
  latchproof find runs/walk/run-001 lamp-lit.png
  latchproof find runs/walk/run-001 idle.png --near 40,176 --within 2 --from start --to jump+20`, "\n"),
		Args: cobra.ExactArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			q, err := f.query(cmd)
			if err != nil {
				return err
			}
			r, err := openLook(args[0])
			if err != nil {
				return err
			}
			if q.Template, err = loadTemplate(args[1], r.Raster().Size()); err != nil {
				return err
			}
			return a.find(cmd.Context(), r, args[1], q, f)
		},
	}
	c.Flags().StringVar(&f.near, "near", "", "only around this place of the template's top left pixel, raster pixels: x,y")
	c.Flags().IntVar(&f.within, "within", 0, "with --near: how far from it, in x and in y, pixels")
	c.Flags().Float64Var(&f.score, "score", look.DefaultScore, "threshold, 0.1 to 1: at or above it the template is there")
	c.Flags().StringVar(&f.from, "from", "", "first frame, or a mark such as jump+14 (default 0)")
	c.Flags().StringVar(&f.to, "to", "", "last frame (default the run's last)")
	return c
}

func (f finding) query(cmd *cobra.Command) (look.Query, error) {
	q := look.Query{Score: f.score}
	switch {
	case !(f.score >= 0.1 && f.score <= 1):
		return q, usageError{fmt.Errorf("--score %v is not from 0.1 to 1", f.score)}
	case f.within < 0 || f.within > 1<<12:
		return q, usageError{fmt.Errorf("--within %d is not from 0 to %d", f.within, 1<<12)}
	case cmd.Flags().Changed("within") && f.near == "":
		return q, usageError{errors.New("--within needs --near")}
	}
	if f.near != "" {
		p, err := parsePoint(f.near)
		if err != nil {
			return q, err
		}
		q.In = image.Rect(p.X-f.within, p.Y-f.within, p.X+f.within+1, p.Y+f.within+1)
	}
	return q, nil
}

// maxTemplate is the size of a template's file, bytes.
const maxTemplate = 16 << 20

// loadTemplate reads a template for a raster. The size of the file and of the
// picture are looked at before a pixel is decoded, so that no file can ask for
// much memory.
func loadTemplate(file string, raster image.Point) (*vision.Template, error) {
	st, err := os.Stat(file)
	switch {
	case err != nil:
		return nil, plain(err)
	case !st.Mode().IsRegular():
		return nil, fmt.Errorf("%s: not a regular file", file)
	case st.Size() > maxTemplate:
		return nil, fmt.Errorf("%s: %d bytes are too many for a template, at most %d", file, st.Size(), maxTemplate)
	}
	src, err := os.Open(file)
	if err != nil {
		return nil, plain(err)
	}
	defer src.Close()
	cfg, err := png.DecodeConfig(src)
	if err != nil {
		return nil, fmt.Errorf("%s: %w: %w", file, screen.ErrPNG, err)
	}
	if cfg.Width > raster.X || cfg.Height > raster.Y {
		return nil, fmt.Errorf("%s: %w: %dx%d on %dx%d", file, vision.ErrTooLarge, cfg.Width, cfg.Height, raster.X, raster.Y)
	}
	t, err := vision.LoadTemplate(file)
	return t, plain(err)
}

// parsePoint reads x,y.
func parsePoint(s string) (image.Point, error) {
	a, b, ok := strings.Cut(s, ",")
	x, bad := strconv.Atoi(strings.TrimSpace(a))
	y, worse := strconv.Atoi(strings.TrimSpace(b))
	if !ok || bad != nil || worse != nil || x < 0 || y < 0 || x > 1<<12 || y > 1<<12 {
		return image.Point{}, usageError{fmt.Errorf("%q is not a place x,y in whole pixels", s)}
	}
	return image.Pt(x, y), nil
}

func (a *app) find(ctx context.Context, r *look.Run, file string, q look.Query, f finding) error {
	var err error
	q.To = r.Last
	if f.from != "" {
		if q.From, err = frameOf(r, f.from); err != nil {
			return err
		}
	}
	if f.to != "" {
		if q.To, err = frameOf(r, f.to); err != nil {
			return err
		}
	}
	if q.From > q.To || q.From > r.Last {
		return usageError{fmt.Errorf("no frames from %d to %d; the run's last frame is %d", q.From, q.To, r.Last)}
	}
	p := a.progress()
	p.Stage("find", 1, 1, "looking", int64(min(q.To, r.Last)-q.From+1))
	found, err := look.Find(ctx, r, q, func(g console.Frame) { p.Advance(int64(g - q.From)) })
	p.clear()
	switch {
	case errors.Is(err, vision.ErrTooLarge) || errors.Is(err, vision.ErrOutside):
		return usageError{fmt.Errorf("%s: %w", file, err)}
	case err != nil:
		return err
	}
	if a.json {
		if err := a.printJSON(foundJSON(r, file, found)); err != nil {
			return err
		}
	} else {
		a.printFound(r, file, found)
	}
	switch {
	case found.Seen == 0:
		fmt.Fprintf(a.err, "latchproof: %s has a picture of none of these frames\n", r.Record.Dir)
		return verdict(codeNothing)
	case len(found.Stretches) == 0:
		return verdict(codeNot)
	}
	return nil
}

func (a *app) printFound(r *look.Run, file string, found *look.Found) {
	q := found.Query
	present := 0
	for _, s := range found.Shows {
		if s == look.Present {
			present++
		}
	}
	fmt.Fprintf(a.out, "%s shows on %d of the %d frames seen from %d to %d (score %g or more)\n", file, present, found.Seen, q.From, q.To, q.Score)
	if len(found.Stretches) > 0 {
		w := tabwriter.NewWriter(a.out, 0, 0, 2, ' ', 0)
		fmt.Fprintf(w, "  frames\tby mark\tplace\tthen\tweakest\tunseen\n")
		for _, s := range found.Stretches {
			first, last := s.Sightings[0], s.Sightings[len(s.Sightings)-1]
			then := "stands still"
			switch box := s.Places(); {
			case first.At != last.At:
				then = fmt.Sprintf("moves to (%d, %d)", last.At.X, last.At.Y)
			case s.Moves():
				then = fmt.Sprintf("moves between (%d, %d) and (%d, %d)", box.Min.X, box.Min.Y, box.Max.X, box.Max.Y)
			}
			weak := s.Weakest()
			fmt.Fprintf(w, "  %s\t%s\t(%d, %d)\t%s\t%.3f at %d\t%s\n", span(s.From(), s.To()), r.Label(s.From()), first.At.X, first.At.Y, then, weak.Score, weak.Frame, count(s.Unseen))
		}
		w.Flush()
	} else if found.Seen > 0 {
		b := found.Best
		fmt.Fprintf(a.out, "  nearest: score %.3f at (%d, %d) on frame %d\n", b.Score, b.At.X, b.At.Y, b.Frame)
	}
	line, numbers, per := found.Timeline(72)
	if line != "" {
		fmt.Fprintf(a.out, "  %s\n  %s  (one character: %s)\n", line, numbers, plural(per, "frame"))
	}
	if len(found.Unseen) > 0 {
		fmt.Fprintf(a.out, "  unseen: %s\n", spans(found.Unseen))
	}
}

func plural(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// count is a number for a table, "-" for none.
func count(n int) string {
	if n == 0 {
		return "-"
	}
	return strconv.Itoa(n)
}

func span(from, to console.Frame) string {
	if from == to {
		return fmt.Sprint(from)
	}
	return fmt.Sprintf("%d-%d", from, to)
}

// spans lists frames, the first 12 stretches of them.
func spans(all []look.Span) string {
	frames := 0
	var parts []string
	for i, s := range all {
		frames += int(s.To-s.From) + 1
		if i < 12 {
			parts = append(parts, span(s.From, s.To))
		}
	}
	text := strings.Join(parts, ", ")
	if len(all) > 12 {
		text += ", ..."
	}
	return fmt.Sprintf("%s (%s)", plural(frames, "frame"), text)
}

func foundJSON(r *look.Run, file string, found *look.Found) map[string]any {
	q := found.Query
	type sight struct {
		Frame console.Frame `json:"frame"`
		At    [2]int        `json:"at"`
		Score float64       `json:"score"`
	}
	of := func(s look.Sighting) sight { return sight{s.Frame, [2]int{s.At.X, s.At.Y}, s.Score} }
	type stretch struct {
		From    console.Frame `json:"from"`
		To      console.Frame `json:"to"`
		Mark    string        `json:"mark"`
		At      [2]int        `json:"at"`
		End     [2]int        `json:"end"`
		Moves   bool          `json:"moves"`
		Weakest float64       `json:"weakest"`
		Unseen  int           `json:"unseen"`
		Places  []sight       `json:"places"`
	}
	stretches, unseen := []stretch{}, [][2]console.Frame{}
	for _, s := range found.Stretches {
		first, last := of(s.Sightings[0]), of(s.Sightings[len(s.Sightings)-1])
		t := stretch{From: s.From(), To: s.To(), Mark: r.Label(s.From()), At: first.At, End: last.At, Moves: s.Moves(), Weakest: s.Weakest().Score, Unseen: s.Unseen}
		for _, p := range s.Sightings {
			t.Places = append(t.Places, of(p))
		}
		stretches = append(stretches, t)
	}
	for _, u := range found.Unseen {
		unseen = append(unseen, [2]console.Frame{u.From, u.To})
	}
	var best any
	if found.Best.Frame >= 0 {
		best = of(found.Best)
	}
	line, _, per := found.Timeline(72)
	return map[string]any{
		"run": r.Record.Dir, "template": file, "score": q.Score, "from": q.From, "to": q.To,
		"seen": found.Seen, "unseen": unseen, "stretches": stretches, "best": best,
		"timeline": line, "frames_per_character": per,
	}
}
