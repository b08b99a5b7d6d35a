package main

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"latchproof/harness"
	"latchproof/harness/judge"
	"latchproof/harness/record"
	"latchproof/specs/console"
	"latchproof/vision"
	"latchproof/vision/screen"
)

func (a *app) templateCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "template",
		Short: "Make templates",
		Args:  cobra.NoArgs,
		RunE:  func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	c.AddCommand(a.cutCommand())
	return c
}

func (a *app) cutCommand() *cobra.Command {
	var frame int64
	var rect, out string
	c := &cobra.Command{
		Use:   "cut RUN --frame N --rect x,y,w,h -o FILE",
		Short: "Make a template from a frame of a run",
		Long: strings.TrimSpace(`
Cuts a rectangle out of the screen that a run showed at a console frame and
writes it as a PNG on the console's raster, ready for a spec. A rectangle without
variance is refused: it would match anywhere.`),
		Example: "  latchproof template cut runs/first-lamp/run-001 --frame 62 --rect 40,176,16,24 -o idle.png",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if rect == "" || out == "" || !cmd.Flags().Changed("frame") {
				return usageError{errors.New("latchproof template cut: --frame, --rect and -o are needed")}
			}
			r, err := parseRect(rect)
			if err != nil {
				return err
			}
			s, err := screenOf(cmd.Context(), args[0], console.Frame(frame))
			if errors.Is(err, judge.ErrUnseen) {
				fmt.Fprintf(a.err, "latchproof: %v\n", err)
				return verdict(codeNothing)
			}
			if err != nil {
				return err
			}
			if !r.In(image.Rect(0, 0, s.W, s.H)) {
				return usageError{fmt.Errorf("the rectangle %s reaches over the %dx%d raster", rect, s.W, s.H)}
			}
			cut, err := s.Crop(r)
			if err != nil {
				return err
			}
			if _, err := vision.NewTemplate(cut, nil); err != nil {
				return fmt.Errorf("the rectangle %s of frame %d makes no template: %w", rect, frame, err)
			}
			if err := writeFile(out, func(w io.Writer) error { return cut.WritePNG(w) }); err != nil {
				return err
			}
			if a.json {
				return a.printJSON(map[string]any{"file": out, "frame": frame, "rect": [4]int{r.Min.X, r.Min.Y, r.Dx(), r.Dy()}})
			}
			fmt.Fprintf(a.out, "%s: %dx%d pixels from frame %d at (%d, %d)\n", out, r.Dx(), r.Dy(), frame, r.Min.X, r.Min.Y)
			return nil
		},
	}
	c.Flags().Int64Var(&frame, "frame", 0, "console frame, 0 is that of the first read after reset")
	c.Flags().StringVar(&rect, "rect", "", "rectangle on the raster, pixels: x,y,w,h")
	c.Flags().StringVarP(&out, "output", "o", "", "PNG file to write")
	return c
}

// screenOf is the picture of a frame of a run. The error is
// judge.ErrUnseen when the run has none.
func screenOf(ctx context.Context, dir string, frame console.Frame) (*screen.Screen, error) {
	run, err := record.OpenFiles(dir, record.CaptureFile, record.FramesFile)
	if err != nil {
		return nil, err
	}
	info, err := harness.RecordedBench(run)
	if err != nil {
		return nil, err
	}
	rows, err := run.Frames()
	if err != nil {
		return nil, err
	}
	at := int64(-1)
	for _, r := range rows {
		if r.Frame == frame && r.State == record.Fresh {
			at = r.Index
		}
	}
	if at < 0 {
		return nil, fmt.Errorf("%s: frame %d is %w: the capture has no picture of it", dir, frame, judge.ErrUnseen)
	}
	return judge.ScreenOf(ctx, judge.Input{
		Video: run.Path(record.CaptureFile), Console: run.Meta.Console.Profile(), Active: info.Active, Fields: info.Fields,
	}, int(at))
}
