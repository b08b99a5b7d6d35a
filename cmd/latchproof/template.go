package main

import (
	"errors"
	"fmt"
	"image"
	"image/color"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"latchproof/harness/look"
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

// cutting is the flags of the command.
type cutting struct {
	frame, rect, out, clear string
	mask                    []string
}

func (a *app) cutCommand() *cobra.Command {
	var f cutting
	c := &cobra.Command{
		Use:   "cut RUN --frame N --rect x,y,w,h -o FILE",
		Short: "Make a template from a frame of a run",
		Long: strings.TrimSpace(`
Cuts a rectangle out of the screen that a run showed at a console frame and
writes it as a PNG on the console's raster, ready for a spec. A rectangle without
variance is refused: it would match anywhere. It says where else on that screen
the template scores best and by what margin it is told from there, and warns when
it is plain or not unique.

--mask leaves a rectangle of the raster out of the template, and --clear a colour
(RRGGBB, or RRGGBB:N for all that differ by at most N levels in each of red, green
and blue; N is 24 when not given): such pixels are written transparent and never
looked at. Use it for what moves behind the thing.`),
		Example: strings.Trim(`
  latchproof template cut runs/first-lamp/run-001 --frame 62 --rect 40,176,16,24 -o idle.png
  latchproof template cut runs/first-lamp/run-001 --frame jump+5 --rect 90,168,24,24 --clear 101018 -o toes.png`, "\n"),
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error { return a.cut(cmd, args[0], f) },
	}
	c.Flags().StringVar(&f.frame, "frame", "", "console frame, 0 is that of the first read after reset; or a mark such as jump+14")
	c.Flags().StringVar(&f.rect, "rect", "", "rectangle on the raster, pixels: x,y,w,h")
	c.Flags().StringArrayVar(&f.mask, "mask", nil, "leave this rectangle of the raster out: x,y,w,h; may be given several times")
	c.Flags().StringVar(&f.clear, "clear", "", "leave this colour out: RRGGBB or RRGGBB:N")
	c.Flags().StringVarP(&f.out, "output", "o", "", "PNG file to write")
	return c
}

func (a *app) cut(cmd *cobra.Command, dir string, f cutting) error {
	if f.rect == "" || f.out == "" || f.frame == "" {
		return usageError{errors.New("latchproof template cut: --frame, --rect and -o are needed")}
	}
	rect, err := parseRect(f.rect)
	if err != nil {
		return err
	}
	r, err := openLook(dir)
	if err != nil {
		return err
	}
	if !rect.In(r.Raster()) {
		return usageError{fmt.Errorf("the rectangle %s reaches over the %dx%d raster", f.rect, r.Raster().Dx(), r.Raster().Dy())}
	}
	s, frame, err := a.screenAt(cmd.Context(), r, f.frame)
	if err != nil {
		return err
	}
	alpha, err := f.alpha(s, rect)
	if err != nil {
		return err
	}
	w, err := look.Weigh(s, rect, alpha)
	if err != nil {
		return fmt.Errorf("the rectangle %s of frame %d makes no template: %w", f.rect, frame, err)
	}
	img, err := look.Cut(s, rect, alpha)
	if err != nil {
		return err
	}
	if err := writePNG(f.out, img); err != nil {
		return err
	}
	for _, text := range w.Warnings() {
		fmt.Fprintf(a.err, "latchproof: warning: %s: %s\n", f.out, text)
	}
	if a.json {
		return a.printJSON(map[string]any{
			"file": f.out, "frame": frame, "rect": [4]int{rect.Min.X, rect.Min.Y, rect.Dx(), rect.Dy()}, "used": w.Used,
			"contrast": w.Contrast, "second": w.Second, "second_at": [2]int{w.SecondAt.X, w.SecondAt.Y}, "margin": w.Margin(),
			"warnings": notNil(w.Warnings()),
		})
	}
	fmt.Fprintf(a.out, "%s: %dx%d pixels from frame %d at (%d, %d)", f.out, rect.Dx(), rect.Dy(), frame, rect.Min.X, rect.Min.Y)
	if w.Used < rect.Dx()*rect.Dy() {
		fmt.Fprintf(a.out, ", %d of them used", w.Used)
	}
	fmt.Fprintf(a.out, "\n  contrast %.1f levels", w.Contrast)
	if w.SecondAt.X >= 0 {
		fmt.Fprintf(a.out, "; second best on this screen: score %.3f at (%d, %d), margin %.3f", w.Second, w.SecondAt.X, w.SecondAt.Y, w.Margin())
	}
	fmt.Fprintf(a.out, "\n  in a spec: shows: {template: %s, near: [%d, %d], within: 1}\n", specName(f.out), rect.Min.X, rect.Min.Y)
	return nil
}

// specName is how a spec beside the template would name it.
func specName(file string) string {
	return strings.TrimSuffix(file[strings.LastIndexByte(file, '/')+1:], ".png")
}

// alpha is the mask of a cut, nil for none.
func (f cutting) alpha(s *screen.Screen, rect image.Rectangle) ([]byte, error) {
	if len(f.mask) == 0 && f.clear == "" {
		return nil, nil
	}
	m := look.NewMask(rect)
	for _, text := range f.mask {
		r, err := parseRect(text)
		if err != nil {
			return nil, err
		}
		if !r.Overlaps(rect) {
			return nil, usageError{fmt.Errorf("--mask %s is outside of the rectangle %s", text, f.rect)}
		}
		m.Hide(r)
	}
	if f.clear != "" {
		c, n, err := parseColour(f.clear)
		if err != nil {
			return nil, err
		}
		m.Clear(s, c, n)
	}
	return m.Alpha(), nil
}

// parseColour reads RRGGBB or RRGGBB:N.
func parseColour(text string) (color.RGBA, int, error) {
	hex, tail, has := strings.Cut(text, ":")
	v, err := strconv.ParseUint(hex, 16, 32)
	n := 24
	var bad error
	if has {
		n, bad = strconv.Atoi(tail)
	}
	if err != nil || len(hex) != 6 || bad != nil || n < 0 || n > 255 {
		return color.RGBA{}, 0, usageError{fmt.Errorf("--clear %q is not RRGGBB or RRGGBB:N with N from 0 to 255", text)}
	}
	return color.RGBA{byte(v >> 16), byte(v >> 8), byte(v), 255}, n, nil
}
