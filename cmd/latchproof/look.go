package main

import (
	"context"
	"errors"
	"fmt"
	"image"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"latchproof/harness"
	"latchproof/harness/judge"
	"latchproof/harness/look"
	"latchproof/harness/look/draw"
	"latchproof/harness/record"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

// looking is the flags of the command.
type looking struct {
	frame, rect, from, to, out  string
	crop, sheet, marks          bool
	grid, scale, every, columns int
}

func (a *app) lookCommand() *cobra.Command {
	var f looking
	c := &cobra.Command{
		Use:   "look RUN -o PNG",
		Short: "Make a picture of a frame of a run, or a sheet of many",
		Long: strings.TrimSpace(`
Writes the screen of a console frame as a PNG, on the console's own raster. With
--grid it is enlarged and has a grid with the coordinates that a spec and
` + "`template cut`" + ` are written in; --rect outlines a rectangle, and with --crop only
that is shown. A frame is a number, or a mark of the run's program and the reads
after it (jump+14).

With --sheet, many frames: --from, --to and --every choose them (by default about
40 over the whole run), or --marks takes the frame of every mark of the program.
Below each is its number and how a spec would name it. A frame without a picture
is an empty cell, never its neighbour.

Exit status 3: the capture has no picture of the frame (with --sheet: of none of
the frames).`),
		Example: strings.Trim(`
  latchproof look runs/walk/run-001 --frame 62 -o street.png
  latchproof look runs/walk/run-001 --frame jump+14 --grid 8 --rect 90,168,24,24 -o jump.png
  latchproof look runs/walk/run-001 --sheet --from jump-5 --to jump+30 --every 5 -o sheet.png
  latchproof look runs/walk/run-001 --sheet --marks -o marks.png`, "\n"),
		Args: func(cmd *cobra.Command, args []string) error {
			_, err := f.run(cmd, args)
			return err
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			dir, err := f.run(cmd, args)
			if err != nil {
				return err
			}
			if err := f.check(cmd); err != nil {
				return err
			}
			r, err := openLook(dir)
			if err != nil {
				return err
			}
			if f.sheet {
				return a.lookSheet(cmd, r, f)
			}
			return a.lookFrame(cmd.Context(), r, f)
		},
	}
	c.Flags().StringVar(&f.frame, "frame", "", "the frame: a number, or a mark such as jump or jump+14")
	c.Flags().StringVarP(&f.out, "output", "o", "", "PNG file to write (needed)")
	c.Flags().IntVar(&f.grid, "grid", 0, "draw a grid with coordinates, a line every so many pixels (16 when no number is given)")
	c.Flags().Lookup("grid").NoOptDefVal = "16"
	c.Flags().IntVar(&f.scale, "scale", 0, "enlarge by this whole factor (default 1; 4 with --grid)")
	c.Flags().StringVar(&f.rect, "rect", "", "outline this rectangle of the raster, pixels: x,y,w,h")
	c.Flags().BoolVar(&f.crop, "crop", false, "show only the rectangle of --rect")
	c.Flags().BoolVar(&f.sheet, "sheet", false, "make a sheet of many frames")
	c.Flags().StringVar(&f.from, "from", "", "first frame of the sheet (default 0)")
	c.Flags().StringVar(&f.to, "to", "", "last frame of the sheet (default the run's last)")
	c.Flags().IntVar(&f.every, "every", 0, "frames from one picture of the sheet to the next (default about 40 pictures)")
	c.Flags().BoolVar(&f.marks, "marks", false, "the sheet shows the frame of every mark")
	c.Flags().IntVar(&f.columns, "columns", 0, "pictures in a row of the sheet")
	return c
}

// run is the run folder among the arguments. A grid's number may stand apart
// from its flag (--grid 8), which the flag parser leaves among them.
func (f *looking) run(cmd *cobra.Command, args []string) (string, error) {
	if len(args) == 2 && cmd.Flags().Changed("grid") {
		for i, s := range args {
			n, err := strconv.Atoi(s)
			if info, bad := os.Stat(s); err == nil && (bad != nil || !info.IsDir()) {
				f.grid = n
				return args[1-i], nil
			}
		}
	}
	return strings.Join(args, ""), cobra.ExactArgs(1)(cmd, args)
}

func (f *looking) check(cmd *cobra.Command) error {
	has := cmd.Flags().Changed
	wrong := func(format string, a ...any) error {
		return usageError{fmt.Errorf("latchproof look: "+format, a...)}
	}
	switch {
	case f.out == "":
		return wrong("-o is needed")
	case f.sheet == has("frame"):
		return wrong("either --frame or --sheet is needed, and not both")
	case f.sheet && (has("grid") || has("rect") || f.crop):
		return wrong("--grid, --rect and --crop are for one frame, not for --sheet")
	case !f.sheet && (has("from") || has("to") || has("every") || has("columns") || f.marks):
		return wrong("--from, --to, --every, --marks and --columns are for --sheet")
	case f.marks && (has("from") || has("to") || has("every")):
		return wrong("--marks chooses the frames; leave --from, --to and --every out")
	case f.crop && f.rect == "":
		return wrong("--crop needs --rect")
	case has("grid") && f.grid < 1:
		return wrong("--grid %d: lines must be 1 pixel or more apart", f.grid)
	case has("every") && f.every < 1:
		return wrong("--every %d is not 1 or more", f.every)
	case f.columns < 0 || has("columns") && f.columns == 0:
		return wrong("--columns %d is not 1 or more", f.columns)
	}
	if !has("scale") {
		f.scale = 1
		if f.grid > 0 {
			f.scale = 4
		}
	}
	return nil
}

// openLook opens a sealed run for looking into it.
func openLook(dir string) (*look.Run, error) {
	rec, err := record.OpenFiles(dir, record.CaptureFile, record.FramesFile)
	if err != nil {
		return nil, err
	}
	info, err := harness.RecordedBench(rec)
	if err != nil {
		return nil, err
	}
	return look.New(rec, info.Active, info.Fields)
}

// frameOf reads a moment and places it in a run.
func frameOf(r *look.Run, text string) (console.Frame, error) {
	m, err := specs.ParseMoment(text)
	if err != nil {
		return 0, usageError{err}
	}
	f, err := r.Frame(m)
	if err != nil {
		if errors.Is(err, specs.ErrNoMark) && len(r.Marks) > 0 {
			var names []string
			for _, k := range r.Marks {
				names = append(names, k.Name)
			}
			err = fmt.Errorf("%w; the marks of the run's program: %s", err, strings.Join(names, ", "))
		}
		return 0, err
	}
	if f < 0 {
		return 0, fmt.Errorf("%s is before frame 0", text)
	}
	return f, nil
}

// screenAt is the picture of a frame that a command line names. When there is
// none that is said, and the error is the exit code.
func (a *app) screenAt(ctx context.Context, r *look.Run, text string) (*screen.Screen, console.Frame, error) {
	f, err := frameOf(r, text)
	var s *screen.Screen
	if err == nil {
		s, err = r.Screen(ctx, f)
	}
	if errors.Is(err, judge.ErrUnseen) || errors.Is(err, specs.ErrNoRead) {
		fmt.Fprintf(a.err, "latchproof: %v\n", err)
		err = verdict(codeNothing)
	}
	return s, f, err
}

func (a *app) lookFrame(ctx context.Context, r *look.Run, f looking) error {
	o := draw.Options{Scale: f.scale, Grid: f.grid}
	if f.rect != "" {
		rect, err := parseRect(f.rect)
		if err != nil {
			return err
		}
		if !rect.In(r.Raster()) {
			return usageError{fmt.Errorf("the rectangle %s reaches over the %dx%d raster", f.rect, r.Raster().Dx(), r.Raster().Dy())}
		}
		if f.crop {
			o.Crop = rect
		} else {
			o.Mark = rect
		}
	}
	s, frame, err := a.screenAt(ctx, r, f.frame)
	if err != nil {
		return err
	}
	label := r.Label(frame)
	o.Caption = caption(r, fmt.Sprintf("frame %d", frame), label)
	img, origin, err := draw.Picture(s, o)
	if err != nil {
		return usageError{err}
	}
	if err := writePNG(f.out, img); err != nil {
		return err
	}
	if a.json {
		return a.printJSON(map[string]any{
			"file": f.out, "run": r.Record.Dir, "frame": frame, "mark": label, "scale": f.scale, "grid": f.grid,
			"size": [2]int{img.Rect.Dx(), img.Rect.Dy()}, "origin": [2]int{origin.X, origin.Y},
			"shown": shown(o.Crop, r.Raster()),
		})
	}
	fmt.Fprintf(a.out, "%s: frame %d%s, %dx%d pixels\n", f.out, frame, bracket(label), img.Rect.Dx(), img.Rect.Dy())
	return nil
}

// shown is the part of the raster that a picture shows, x, y, w, h.
func shown(crop, raster image.Rectangle) [4]int {
	if crop.Empty() {
		crop = raster
	}
	return [4]int{crop.Min.X, crop.Min.Y, crop.Dx(), crop.Dy()}
}

func caption(r *look.Run, parts ...string) string {
	text := strings.Join(append(parts, filepath.Base(filepath.Clean(r.Record.Dir))), "  ")
	return strings.Join(strings.Fields(text), " ")
}

func bracket(s string) string {
	if s == "" {
		return ""
	}
	return " (" + s + ")"
}

func writePNG(path string, img image.Image) error {
	return writeFile(path, func(w io.Writer) error { return png.Encode(w, img) })
}
