package flash

import (
	"errors"
	"fmt"
	"image"
	"math"

	"latchproof/harness/lockstep"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

// Kind is which of the two definitions a stretch meets.
type Kind string

// The kinds; see the package documentation.
const (
	General Kind = "general"
	Red     Kind = "red"
)

// Stretch is a part of a run that flashes.
type Stretch struct {
	Kind Kind
	// From is the frame of the first change of its first flash, To that of the
	// last change of its last. Stretches of a kind are a second apart or more.
	From, To console.Frame
	// Flashes is how many fall in the worst second: more than a quarter of a
	// field has so many. At least 4.
	Flashes int
	// Area is the share of the worst field that flashes, above 0.25 to 1.
	Area float64
	// Place bounds what flashes at the frame of the largest area, raster pixels.
	Place image.Rectangle
	// Unseen is how many of its frames have no picture.
	Unseen int64
}

// Result is what was found in a run.
type Result struct {
	Stretches []Stretch // in the order of From; general before red
	Frames    int64     // from 0 to the last
	Unseen    int64     // of them, without a picture
	Gap       int64     // the longest row of frames without a picture
}

// ErrOrder: a frame does not come after the one before.
var ErrOrder = errors.New("frames out of order")

// Watcher looks at the pictures of a run in the order of their frames. It is not
// safe for use from several goroutines.
type Watcher struct {
	w, h    int
	grid    grid
	light   []light
	changes []change
	reds    []tint
	general *counter
	red     *counter

	first  console.Frame // of the run, or of what is looked at
	last   console.Frame // the last frame that was accounted for; first-1 before any
	unseen int64
	past   []int64 // unseen as of each of the last two seconds' frames, by frame modulo its length
	run    int64   // frames without a picture since the last one
	gap    int64
}

// New makes a watcher for a raster in pixels, 1 to 1024 a side, and a frame rate
// in hertz, above 0 and at most 1000.
func New(w, h int, hz float64) (*Watcher, error) {
	if w < 1 || h < 1 || w > 1024 || h > 1024 {
		return nil, fmt.Errorf("flash: raster %dx%d: sides must be 1 to 1024", w, h)
	}
	if !(hz > 0 && hz <= 1000) {
		return nil, fmt.Errorf("flash: frame rate %v Hz: must be above 0 and at most 1000", hz)
	}
	g := newGrid(w, h)
	n := g.cols * g.rows
	second := int(math.Ceil(hz))
	return &Watcher{
		w: w, h: h, grid: g, last: -1, past: make([]int64, 2*second+1), light: make([]light, n), changes: make([]change, n), reds: make([]tint, n),
		general: newCounter(General, g, hz), red: newCounter(Red, g, hz),
	}, nil
}

// Screen looks at the picture of a frame, from 0, of the raster of New. Frames
// that are left out have no picture. The error is ErrOrder, or one of the size.
func (w *Watcher) Screen(f console.Frame, s *screen.Screen) error {
	if s.W != w.w || s.H != w.h {
		return fmt.Errorf("flash: screen of %dx%d, want %dx%d", s.W, s.H, w.w, w.h)
	}
	if err := w.advance(f); err != nil {
		return err
	}
	w.ofScreen(s)
	w.look(f)
	return nil
}

// Features is Screen for the block means of a trace.
func (w *Watcher) Features(f console.Frame, fs lockstep.Features) error {
	if want := (lockstep.Layout{W: w.w, H: w.h}).Len(); len(fs) != want {
		return fmt.Errorf("flash: %d features, want %d", len(fs), want)
	}
	if err := w.advance(f); err != nil {
		return err
	}
	w.ofFeatures(fs)
	w.look(f)
	return nil
}

// advance lets the time up to frame f pass.
func (w *Watcher) advance(f console.Frame) error {
	if f <= w.last {
		return fmt.Errorf("%w: frame %d after %d", ErrOrder, f, w.last)
	}
	w.skip(f - 1)
	w.run = 0
	w.tick(f)
	return nil
}

// tick begins frame f.
func (w *Watcher) tick(f console.Frame) {
	w.last = f
	w.past[w.at(f)] = w.unseen
	w.general.tick(f)
	w.red.tick(f)
}

func (w *Watcher) at(f console.Frame) int {
	n := console.Frame(len(w.past))
	return int((f%n + n) % n)
}

// missing is how many frames up to f, one of the last two seconds, are unseen.
func (w *Watcher) missing(f console.Frame) int64 { return w.past[w.at(f)] }

// skip accounts for frames without a picture up to and with frame f.
func (w *Watcher) skip(f console.Frame) {
	pass := func(n int64) {
		w.unseen, w.run = w.unseen+n, w.run+n
		w.gap = max(w.gap, w.run)
	}
	// Nothing is left to go in a long row but its last two seconds.
	kept := console.Frame(len(w.past))
	for w.last < f {
		if far := f - w.last - kept; far > 0 && w.general.idle() && w.red.idle() {
			pass(int64(far))
			w.last += far
			continue
		}
		pass(1)
		w.tick(w.last + 1)
	}
}

func (w *Watcher) look(f console.Frame) {
	for i := range w.light {
		if w.changes[i].next(w.light[i].l) {
			w.general.crowd.changed(i, f, w.changes[i].way)
		}
		if w.reds[i].next(&w.light[i]) {
			w.red.crowd.changed(i, f, w.reds[i].way())
		}
	}
	w.general.judge(f, w.missing)
	w.red.judge(f, w.missing)
}

// Finish ends the run with frame last, which may be one without a picture, and
// gives what was found. The watcher is of no use afterwards.
func (w *Watcher) Finish(last console.Frame) Result {
	w.skip(last)
	r := Result{Frames: int64(w.last-w.first) + 1, Unseen: w.unseen, Gap: w.gap}
	r.Stretches = merge(w.general.stretches, w.red.stretches)
	return r
}

// merge joins two lists by From.
func merge(a, b []Stretch) []Stretch {
	var out []Stretch
	for len(a) > 0 && len(b) > 0 {
		if a[0].From <= b[0].From {
			out, a = append(out, a[0]), a[1:]
		} else {
			out, b = append(out, b[0]), b[1:]
		}
	}
	return append(append(out, a...), b...)
}
