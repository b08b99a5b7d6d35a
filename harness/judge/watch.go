package judge

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"time"

	"latchproof/harness/checks"
	"latchproof/harness/clock"
	"latchproof/harness/feeder"
	"latchproof/harness/lockstep"
	"latchproof/harness/record"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/vision"
	"latchproof/vision/screen"
)

// Input is all that a run is judged from.
type Input struct {
	Video   string          // path of the capture
	Stamps  []time.Duration // host-clock instant of every picture; nil takes them from the container
	Latches []feeder.Latch  // nil when there is no read log
	// Underruns are the indexes of the latch pulses that were served without
	// program data.
	Underruns []int64
	Syncs     []feeder.Sync // nil when board and host clock were never compared
	Console   console.Profile

	Active      image.Rectangle // where the raster lies in the picture; empty: all of it
	Latency     clock.Interval  // calibrated; zero: unknown
	CaptureRate float64         // nominal, hertz; 0: unknown

	Spec   *specs.Spec   // nil: nothing to judge
	Anchor *specs.Anchor // used when the spec brings none; nil: none

	Trace io.Writer // the trace is written here; nil: none
	Store *Store    // keeps the screens; nil: none
	// Progress is told now and then how many pictures were watched. May be nil.
	Progress func(pictures int)
}

// Watched is what was found.
type Watched struct {
	Results  []Result
	Clock    *clock.Clock
	Counts   Counts
	Rows     []record.FrameRow
	Reads    []lockstep.ReadInfo
	Last     console.Frame // last frame that the clock covers, -1 for none
	Unseen   []int64       // frames without a picture, ascending
	Lag      []int64       // lag frames, ascending
	Problems []string
}

// anchorWait is how many pictures are held back for the anchor when nothing
// tells where it should be, and anchorLate how many frames after its frame it
// is given up when something does.
const (
	anchorWait = 3600
	anchorLate = 120
)

// Watch decodes the capture once and judges it.
//
// Errors: those of vision (ErrNoVideo, ErrEmpty; a capture that is cut short is
// not an error but a problem), of the checks, of the trace's writer, and of the
// context. That the clock is untrusted is no error: the verdicts are unseen.
func Watch(ctx context.Context, in Input) (*Watched, error) {
	video, err := vision.OpenVideo(in.Video)
	if err != nil {
		return nil, err
	}
	defer video.Close()
	w := &watcher{in: in, video: video, repeats: newRepeats(in.Console.Width, in.Console.Height)}
	w.anchor = in.Anchor
	if in.Spec != nil && in.Spec.Anchor != nil {
		w.anchor = in.Spec.Anchor
	}
	if err := w.prepare(); err != nil {
		return nil, err
	}
	if err := w.pictures(ctx); err != nil {
		return nil, err
	}
	return w.finish()
}

type watcher struct {
	in     Input
	video  *vision.Video
	anchor *specs.Anchor

	stamps   []time.Duration
	assumed  bool // stamps were taken from the container's nominal rate
	fit      *clock.ReadFit
	events   []clock.ReadEvent
	line     clock.Line
	clock    *clock.Clock
	settled  bool // the clock is final but for the stale pictures
	anchored *clock.Anchor

	jobs  []*job
	trace *lockstep.TraceWriter

	repeats   *repeats
	count     int           // pictures watched
	stale     []bool        // per picture: the card delivered the last one again
	held      []heldPicture // before the clock is settled
	shown     bool          // the anchor held in the picture before
	lost      string        // why the anchor is given up for lost; empty: it is not
	lastFrame console.Frame // last frame given out
	rows      []record.FrameRow
	seen      map[console.Frame]bool
	problems  []string
}

type heldPicture struct {
	k int
	s *screen.Screen
}

// prepare builds the clock as far as it can be known before the first picture.
func (w *watcher) prepare() error {
	w.lastFrame, w.seen = -1, map[console.Frame]bool{}
	w.stamps = w.in.Stamps
	if w.stamps == nil {
		if err := w.assumeStamps(); err != nil {
			return err
		}
	}
	if len(w.in.Latches) > 0 {
		w.events = clock.Group(w.in.Latches, w.in.Console.BurstGap)
		fit, err := clock.FitReads(w.events, w.in.Console.Rate)
		if err != nil {
			w.problem("the read log gives no frame clock: %v", err)
		}
		w.fit = fit
	}
	if len(w.in.Syncs) > 0 {
		line, err := clock.FitBoard(w.in.Syncs)
		if err != nil {
			w.problem("the board's clock cannot be tied to the host's: %v", err)
		}
		w.line = line
	}
	if err := w.build(); err != nil {
		return err
	}
	if w.anchor == nil {
		return w.settle()
	}
	return nil
}

// assumeStamps takes the container's nominal rate: the instants must be known
// before decoding. pictures checks it against the container's own stamps.
func (w *watcher) assumeStamps() error {
	info := w.video.Info()
	if info.FPS == 0 || info.Frames == 0 {
		return fmt.Errorf("%s: the container gives neither a picture rate nor a number of pictures", w.in.Video)
	}
	w.assumed = true
	// Containers round the number of pictures; a few more than promised may
	// come, and those that do not come are cut off in finish.
	w.stamps = make([]time.Duration, info.Frames+8)
	for k := range w.stamps {
		w.stamps[k] = time.Duration(float64(k) / info.FPS * 1e9)
	}
	return nil
}

func (w *watcher) problem(format string, a ...any) {
	w.problems = append(w.problems, fmt.Sprintf(format, a...))
}

// build makes the clock from what is known so far.
func (w *watcher) build() error {
	if len(w.in.Latches) == 0 {
		return w.take(clock.AssumedClock(w.in.Console.Rate, w.stamps, w.anchored))
	}
	return w.take(clock.Build(clock.Input{
		Reads: w.fit, Board: w.line, Stamps: w.stamps, Nominal: w.in.Console.Rate,
		CaptureRate: w.in.CaptureRate, Latency: w.in.Latency, Anchor: w.anchored,
	}))
}

// take uses a clock from here on, unless err says that there is none.
func (w *watcher) take(c *clock.Clock, err error) error {
	if err == nil {
		w.clock = c
		w.distrust()
	}
	return err
}

// settle fixes the clock and gives out the pictures held back for it.
func (w *watcher) settle() error {
	w.settled = true
	w.jobs = newJobs(w.in.Spec, w.clock)
	if w.in.Trace != nil {
		t, err := lockstep.NewTraceWriter(w.in.Trace, lockstep.Layout{W: w.in.Console.Width, H: w.in.Console.Height})
		if err != nil {
			return err
		}
		w.trace = t
	}
	for _, h := range w.held {
		if err := w.give(h.k, h.s); err != nil {
			return err
		}
	}
	w.held = nil
	return nil
}

// pictures decodes, normalises and judges in three goroutines, so that two
// cores are used.
func (w *watcher) pictures(ctx context.Context) error {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	raster := w.in.Console
	screens := normalise(ctx, cancel, w.decode(ctx, cancel), vision.Normalizer{Active: w.in.Active, W: raster.Width, H: raster.Height})
	var failed error
	for p := range screens.out {
		if failed == nil {
			if failed = w.picture(p.s, p.stamp); failed != nil {
				cancel(failed)
			}
		}
		if w.settled { // otherwise the screen is held back
			screens.recycle(p.s)
		}
	}
	if failed != nil {
		return failed
	}
	cause := context.Cause(ctx)
	if errors.Is(cause, vision.ErrTruncated) {
		w.problem("the capture is cut short: %v", cause)
		return nil
	}
	return cause
}

// picture takes the next captured picture.
func (w *watcher) picture(s *screen.Screen, stamp time.Duration) error {
	k := w.count
	w.count++
	if k >= len(w.stamps) {
		if w.in.Stamps != nil {
			if k == len(w.stamps) {
				w.problem("the capture has more pictures than instants; those after %d are left out", k)
			}
			return nil
		}
		return fmt.Errorf("%s: %w: more pictures than the container promised (%d)", w.in.Video, errUneven, len(w.stamps))
	}
	if w.assumed {
		// The first stamp may be anything, and Matroska rounds to 1 ms.
		if d := stamp - w.stamps[k]; k > 0 && (d > 3*time.Millisecond || d < -3*time.Millisecond) {
			return fmt.Errorf("%s: %w: picture %d is at %v and should be at %v", w.in.Video, errUneven, k, stamp, w.stamps[k].Round(time.Millisecond))
		}
	}
	w.stale = append(w.stale, w.repeats.next(s, k == 0))
	if w.in.Progress != nil && k%32 == 0 {
		w.in.Progress(k)
	}
	if w.settled {
		return w.give(k, s)
	}
	w.held = append(w.held, heldPicture{k, s})
	return w.seekAnchor(k, s)
}

var errUneven = errors.New("the container's pictures are not evenly spaced")

// seekAnchor looks for the first picture that shows the anchor.
func (w *watcher) seekAnchor(k int, s *screen.Screen) error {
	a := w.clock.Captures[k]
	known := w.placed()
	if known && (a.State == clock.Outside && a.Frame <= 0 || a.Frame < w.anchor.Frame-anchorLate) {
		return nil // before the run: an old screen may still be up
	}
	sight, err := w.anchor.Check.(checks.Check).Look(s)
	if err != nil {
		return fmt.Errorf("anchor: %w", err)
	}
	if sight.Holds && !w.shown && k > 0 {
		w.anchored = &clock.Anchor{Frame: w.anchor.Frame, Capture: k}
		if err := w.build(); err != nil {
			return err
		}
		return w.settle()
	}
	w.shown = sight.Holds
	if known && a.Frame > w.anchor.Frame+anchorLate || !known && k >= anchorWait {
		return w.noAnchor()
	}
	return nil
}

// placed says whether the clock knows without the anchor where the frames are.
func (w *watcher) placed() bool {
	return len(w.in.Latches) > 0 && w.in.Latency.Known() && w.clock.State == clock.Measured
}

// noAnchor goes on without the anchor. A calibrated clock stands on its own
// feet; another one has lost its only hold.
func (w *watcher) noAnchor() error {
	if w.placed() {
		w.problem("the anchor never appeared near frame %d; the calibrated latency alone ties the pictures to the frames", w.anchor.Frame)
	} else {
		w.lost = fmt.Sprintf("the anchor of frame %d never appeared, and nothing else ties the pictures to the frames", w.anchor.Frame)
		w.distrust()
	}
	return w.settle()
}

// distrust keeps the clock untrusted once the anchor is lost.
func (w *watcher) distrust() {
	if w.lost != "" {
		w.clock.State, w.clock.Why = clock.Untrusted, w.lost
	}
}

// give hands a picture to everything that asks for its frame.
func (w *watcher) give(k int, s *screen.Screen) error {
	a := w.clock.Captures[k]
	row := record.FrameRow{Index: int64(k), Stamp: w.stamps[k], Frame: record.NoFrame}
	switch {
	case a.State == clock.Outside:
		row.State = record.Outside
	case w.stale[k]:
		row.State = record.Repeat
	case a.State != clock.Sure || w.clock.State == clock.Untrusted:
		row.State = record.Unsure
	case a.Frame <= w.lastFrame:
		row.State, row.Frame = record.Repeat, a.Frame
	default:
		row.State, row.Frame = record.Fresh, a.Frame
	}
	w.rows = append(w.rows, row)
	if row.State == record.Unsure && a.State == clock.Unsure && a.Margin <= a.Guard && w.clock.State == clock.Measured {
		for _, j := range w.jobs {
			if err := j.lookNear(a.Frame, s); err != nil {
				return err
			}
		}
	}
	if row.State != record.Fresh {
		return nil
	}
	w.lastFrame = a.Frame
	w.seen[a.Frame] = true
	for _, j := range w.jobs {
		if err := j.look(a.Frame, s); err != nil {
			return err
		}
	}
	if w.trace != nil {
		if err := w.trace.Add(a.Frame, lockstep.Seen, s); err != nil {
			return err
		}
	}
	if w.in.Store != nil {
		return w.in.Store.Put(a.Frame, s)
	}
	return nil
}
