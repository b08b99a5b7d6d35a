package look

import (
	"context"
	"errors"
	"fmt"
	"image"

	"latchproof/harness/clock"
	"latchproof/harness/judge"
	"latchproof/harness/record"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/specs/program"
	"latchproof/vision/screen"
)

// Run is a recorded run to look into.
type Run struct {
	Record *record.Run
	// Last is the last frame that the run covers, -1 for none.
	Last console.Frame
	// Marks of the run's own program, in its order; empty when it has none.
	Marks []program.Mark

	input   judge.Input
	rows    []record.FrameRow
	capture map[console.Frame]int // capture index of the frames seen
	frame   map[int]console.Frame // the other way round
	reads   *clock.ReadFit        // nil: no read log, or none that can be used
	noReads string                // why reads is nil
	program bool
}

// New takes a sealed run. active and fields say where the raster lies in its
// captured pictures (harness.RecordedBench). Errors: those of the record's files.
func New(rec *record.Run, active image.Rectangle, fields judge.Fields) (*Run, error) {
	r := &Run{
		Record: rec, Last: -1, capture: map[console.Frame]int{}, frame: map[int]console.Frame{},
		input: judge.Input{
			Video: rec.Path(record.CaptureFile), Console: rec.Meta.Console.Profile(), Active: active, Fields: fields,
		},
	}
	var err error
	if r.rows, err = rec.Frames(); err != nil {
		return nil, err
	}
	for _, row := range r.rows {
		r.Last = max(r.Last, row.Frame)
		if row.State == record.Fresh {
			r.capture[row.Frame], r.frame[int(row.Index)] = int(row.Index), row.Frame
		}
	}
	if err := r.log(); err != nil {
		return nil, err
	}
	return r, r.marks()
}

// log places the reads.
func (r *Run) log() error {
	r.noReads = "the run has no read log"
	if !r.Record.Has(record.ReadsFile) {
		return nil
	}
	latches, err := r.Record.Reads()
	if err != nil || len(latches) == 0 {
		return err
	}
	fit, err := clock.FitReads(clock.Group(latches, r.input.Console.BurstGap), r.input.Console.Rate)
	if err != nil {
		r.noReads = "the run's read log gives no frame clock: " + err.Error()
		return nil
	}
	r.reads = fit
	r.Last = max(r.Last, fit.LastFrame())
	return nil
}

// marks reads the marks of the run's own program.
func (r *Run) marks() error {
	if !r.Record.Has(record.ProgramFile) {
		return nil
	}
	src, err := r.Record.ReadFile(record.ProgramFile)
	if err != nil || len(src) == 0 {
		return err
	}
	p, err := program.Parse(r.Record.Path(record.ProgramFile), src, r.input.Console, program.DefaultLimits)
	if err != nil {
		return err
	}
	r.Marks, r.program = p.Marks(), true
	return nil
}

// Console is the profile of the run's console.
func (r *Run) Console() console.Profile { return r.input.Console }

// Woven says whether the captured pictures are woven of two fields, which lie half
// a line apart.
func (r *Run) Woven() bool { return r.input.Fields.Woven() }

// Raster is the console's raster.
func (r *Run) Raster() image.Rectangle {
	return image.Rect(0, 0, r.input.Console.Width, r.input.Console.Height)
}

// Seen says whether the capture has a picture of the frame.
func (r *Run) Seen(f console.Frame) bool {
	_, ok := r.capture[f]
	return ok
}

// Frame is the frame of a moment. A moment with a mark needs the run's program
// and its read log; ErrNoMarks says what is missing. Other errors are those of
// specs.Moment.Frame.
func (r *Run) Frame(m specs.Moment) (console.Frame, error) {
	if m.Mark == "" {
		return console.Frame(m.Offset), nil
	}
	if !r.program {
		return 0, fmt.Errorf("%w: %s: the run has no program", ErrNoMarks, m)
	}
	if r.reads == nil {
		return 0, fmt.Errorf("%w: %s: %s", ErrNoMarks, m, r.noReads)
	}
	return m.Frame(r.reads.FrameOfRead, r.Marks)
}

// FrameOfRead is the frame in which a read was made; false when the log has no
// such read.
func (r *Run) FrameOfRead(n program.Read) (console.Frame, bool) {
	if r.reads == nil {
		return 0, false
	}
	return r.reads.FrameOfRead(n)
}

// Label is how a spec would name the frame by the last mark before it
// ("jump+14"), "lag" for a frame after a mark in which nothing was read, and ""
// before the first mark.
func (r *Run) Label(f console.Frame) string {
	if r.reads == nil {
		return ""
	}
	n, ok := r.reads.ReadAt(f)
	if !ok {
		return ""
	}
	text := ""
	for _, m := range r.Marks {
		if m.Read > n {
			break
		}
		text = specs.Moment{Mark: m.Name, Offset: int64(n - m.Read)}.String()
	}
	if at, ok := r.reads.FrameOfRead(n); text != "" && (!ok || at != f) {
		return "lag"
	}
	return text
}

// Screens hands the pictures of the wanted frames to see, in their order; frames
// that the capture did not see are left out. The screen belongs to see only
// until it returns. Errors: those of judge.Screens.
func (r *Run) Screens(ctx context.Context, want func(console.Frame) bool, see func(console.Frame, *screen.Screen) error) error {
	return judge.Screens(ctx, r.input, func(k int) bool {
		f, ok := r.frame[k]
		return ok && want(f)
	}, func(k int, s *screen.Screen) error { return see(r.frame[k], s) })
}

// Screen is the picture of one frame. The error wraps judge.ErrUnseen when the
// run has none.
func (r *Run) Screen(ctx context.Context, f console.Frame) (*screen.Screen, error) {
	if !r.Seen(f) {
		return nil, fmt.Errorf("%s: frame %d is %w: %s", r.Record.Dir, f, judge.ErrUnseen, r.Why(f))
	}
	var found *screen.Screen
	err := r.Screens(ctx, func(g console.Frame) bool { return g == f }, func(_ console.Frame, s *screen.Screen) error {
		found = s.Clone()
		return nil
	})
	if err == nil && found == nil {
		err = fmt.Errorf("%s: frame %d is %w: its picture cannot be decoded", r.Record.Dir, f, judge.ErrUnseen)
	}
	return found, err
}

// Before hands every captured picture before that of frame f to see, also those
// that stand for no frame, but not the ones between the last frame seen before f
// and f, which may be of either.
func (r *Run) Before(ctx context.Context, f console.Frame, see func(*screen.Screen) error) error {
	end := -1
	for g, k := range r.capture {
		if g < f {
			end = max(end, k)
		}
	}
	return judge.Screens(ctx, r.input, func(k int) bool { return k <= end }, func(_ int, s *screen.Screen) error { return see(s) })
}

// Why says why a frame has no picture.
func (r *Run) Why(f console.Frame) string {
	switch {
	case r.Last < 0:
		return "the run has no frames"
	case f > r.Last:
		return fmt.Sprintf("the run's last frame is %d", r.Last)
	}
	near := func(g console.Frame, step console.Frame) string {
		for n := 0; n < 600 && g >= 0 && g <= r.Last; n, g = n+1, g+step {
			if r.Seen(g) {
				return fmt.Sprint(g)
			}
		}
		return ""
	}
	before, after := near(f, -1), near(f, 1)
	switch {
	case before != "" && after != "":
		return fmt.Sprintf("the capture has no picture of it; it has one of %s and of %s", before, after)
	case before+after != "":
		return fmt.Sprintf("the capture has no picture of it; the nearest it has is of %s", before+after)
	}
	return "the capture has no picture of it"
}

// ErrNoMarks says that a run cannot place marks.
var ErrNoMarks = errors.New("no mark has a frame here")
