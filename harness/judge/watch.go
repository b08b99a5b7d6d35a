package judge

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"slices"
	"sync/atomic"
	"time"

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
	Video string // path of the capture
	// Stamps are the host-clock instants of every capture picture (of every field
	// where there are fields); nil takes them from the container.
	Stamps  []time.Duration
	Latches []feeder.Latch // nil when there is no read log
	// Underruns are the indexes of the latch pulses that were served without
	// program data.
	Underruns []int64
	Syncs     []feeder.Sync // nil when board and host clock were never compared
	Console   console.Profile

	Active      image.Rectangle // where the raster lies in the picture; empty: all of it
	Fields      Fields
	Latency     clock.Interval // calibrated; zero: unknown
	CaptureRate float64        // nominal, of the pictures in the file, hertz; 0: unknown

	Spec   *specs.Spec   // nil: nothing to judge
	Anchor *specs.Anchor // used when the spec brings none; nil: none

	// Damaged are the pictures of the file that the card itself called damaged when
	// it delivered them, ascending.
	Damaged []int64

	Trace io.Writer // the trace is written here; nil: none
	Store *Store    // keeps the screens; nil: none
	// Known says what an earlier watching of the same capture found; then only
	// the pictures that a checkpoint asks for are looked at. It is not used when
	// Trace or Store are given.
	Known *Known
	// Shelf takes the place of the video, which is not opened then: only the
	// pictures that it gives are looked at, and Result.Away and EventTime.Away say
	// what others could change. It needs Stamps and Known, with a row for
	// every stamp, and neither Trace nor Store.
	Shelf Shelf
	// Progress is told now and then how many pictures were watched. May be nil.
	Progress func(pictures int)
}

// Known is what an earlier watching of a capture found out from its pictures.
type Known struct {
	Rows []record.FrameRow // frames.csv, one row for every capture picture
	// Against is why the pictures contradicted the clock; empty when they did not.
	Against string
}

// Watched is what was found.
type Watched struct {
	Results  []Result
	Timing   *Timing // nil: none asked for
	Clock    *clock.Clock
	Counts   Counts
	Rows     []record.FrameRow
	Reads    []lockstep.ReadInfo
	Last     console.Frame // last frame that the clock covers, -1 for none
	Unseen   []int64       // frames without a picture, ascending
	Lag      []int64       // lag frames, ascending
	Problems []string
}

// Watch decodes the capture and judges it: once, but for the stretch in which
// the anchor is looked for, which is decoded before.
//
// Errors: those of vision (ErrNoVideo, ErrEmpty; a capture that is cut short is
// not an error but a problem), of the checks, of the trace's writer, and of the
// context. That the clock is untrusted is no error: the verdicts are unseen.
func Watch(ctx context.Context, in Input) (*Watched, error) {
	w := &watcher{in: in, motion: &motion{}}
	pictures := 0
	switch {
	case in.Shelf == nil:
		video, err := vision.OpenVideo(in.Video)
		if err != nil {
			return nil, err
		}
		defer video.Close()
		w.reel, w.scan = newReel(video, in), video.Scan()
		pictures = len(w.scan.Stamps)
	case in.Known == nil || in.Trace != nil || in.Store != nil || len(in.Stamps) != len(in.Known.Rows):
		return nil, errors.New("judging from kept pictures alone needs to know what every picture of the capture is")
	default:
		per := in.Fields.per()
		w.reel = shelf{take: in.Shelf, rows: len(in.Stamps), per: per}
		pictures = (len(in.Stamps) + per - 1) / per
	}
	layout := lockstep.Layout{W: in.Console.Width, H: in.Console.Height}
	w.anchor = in.Anchor
	if in.Spec != nil && in.Spec.Anchor != nil {
		w.anchor = in.Spec.Anchor
	}
	if err := w.prepare(pictures); err != nil {
		return nil, err
	}
	if w.anchor != nil {
		if err := w.seekAnchor(ctx); err != nil {
			return nil, err
		}
	}
	if err := w.pictures(ctx, layout); err != nil {
		return nil, err
	}
	return w.finish()
}

type watcher struct {
	mixed  bool // said that fields share their colour
	in     Input
	reel   source
	scan   vision.Scan // of the video; empty when there is none
	anchor *specs.Anchor

	stamps   []time.Duration // of the pictures that can have a frame
	fit      *clock.ReadFit
	events   []clock.ReadEvent
	line     clock.Line
	clock    *clock.Clock
	anchored *clock.Anchor
	lagging  map[console.Frame]bool

	jobs  []*job
	timer *timer // nil: none asked for
	trace *lockstep.TraceWriter

	clean     clean
	motion    *motion
	features  lockstep.Features
	count     int       // pictures in the capture
	stale     []bool    // per picture: the card delivered the last one again
	damaged   []bool    // per picture
	waiting   []waiting // pictures whose neighbours are not all known yet
	rows      []record.FrameRow
	lastFrame console.Frame // last frame given out
	seen      map[console.Frame]bool
	lost      string // why the clock is not trusted whatever it says; empty: it is
	against   string // what the pictures say against the clock
	told      bool   // and the clock was told
	problems  []string
}

type waiting struct {
	k        int
	s        *screen.Screen
	features lockstep.Features
}

// known says whether an earlier watching tells what each picture is.
func (w *watcher) known() bool {
	return w.in.Known != nil && w.in.Trace == nil && w.in.Store == nil && len(w.in.Known.Rows) == w.count
}

// prepare builds the clock as far as it can be known before the first picture.
func (w *watcher) prepare(pictures int) error {
	w.lastFrame, w.seen = -1, map[console.Frame]bool{}
	w.count = pictures * w.in.Fields.per()
	w.stamps = w.in.Stamps
	if w.stamps == nil {
		w.stamps = w.in.Fields.Instants(w.scan.Stamps)
	}
	switch n := len(w.stamps); {
	case w.count > n:
		w.problem("the capture has more pictures than instants; those after %d are left out", n)
	case w.count < n:
		w.problem("the capture has %d pictures and %d instants: the last ones are missing", w.count, n)
		w.stamps = w.stamps[:w.count]
	}
	w.stale, w.damaged = make([]bool, len(w.stamps)), make([]bool, len(w.stamps))
	if w.known() {
		for k, r := range w.in.Known.Rows[:len(w.stamps)] {
			w.stale[k] = r.State == record.Repeat && r.Frame == record.NoFrame
			w.damaged[k] = r.State == record.Damaged
		}
		w.against = w.in.Known.Against
	}
	if len(w.in.Latches) > 0 {
		w.events = clock.Group(w.in.Latches, w.in.Console.BurstGap)
		fit, err := clock.FitReads(w.events, w.in.Console.Rate)
		if err != nil {
			w.problem("the read log gives no frame clock: %v", err)
		}
		w.fit = fit
		w.lagging = map[console.Frame]bool{}
		for _, f := range fit.LagFrames() {
			w.lagging[f] = true
		}
	}
	if len(w.in.Syncs) > 0 {
		line, err := clock.FitBoard(w.in.Syncs)
		if err != nil {
			w.problem("the board's clock cannot be tied to the host's: %v", err)
		}
		w.line = line
	}
	return w.build()
}

func (w *watcher) problem(format string, a ...any) {
	w.problems = append(w.problems, fmt.Sprintf(format, a...))
}

// container is how far the stamp of a container may be from its picture's
// instant: Matroska's are rounded to 1 ms.
const container = 600 * time.Microsecond

// build makes the clock from what is known so far.
func (w *watcher) build() error {
	in := clock.Input{
		Reads: w.fit, Board: w.line, Stamps: w.stamps, Nominal: w.in.Console.Rate,
		CaptureRate: w.in.CaptureRate, Latency: w.in.Latency, Anchor: w.anchored, Fields: w.in.Fields.Woven(),
	}
	if len(w.in.Syncs) == 0 {
		in.Exact = container
	}
	if len(w.in.Latches) == 0 {
		return w.take(clock.Assume(in))
	}
	return w.take(clock.Build(in))
}

// take uses a clock from here on, unless err says that there is none.
func (w *watcher) take(c *clock.Clock, err error) error {
	if err == nil {
		w.clock = c
		if w.lost != "" {
			w.clock.Distrust(w.lost)
		}
		if w.against != "" && w.told {
			w.clock.Contradict(w.against)
		}
	}
	return err
}

// distrust gives the clock up for good.
func (w *watcher) distrust(why string) {
	w.lost = why
	w.clock.Distrust(why)
}

// pictures watches the capture.
func (w *watcher) pictures(ctx context.Context, layout lockstep.Layout) error {
	w.jobs = newJobs(w.in.Spec, w.clock)
	w.timer = newTimer(w.in.Spec, w.clock)
	if w.in.Trace != nil {
		t, err := lockstep.NewTraceWriter(w.in.Trace, layout)
		if err != nil {
			return err
		}
		w.trace = t
	}
	var err error
	if w.known() {
		err = w.wanted(ctx)
	} else {
		err = w.reel.run(ctx, 0, nil, w.picture)
		if err == nil || errors.Is(err, vision.ErrTruncated) {
			if e := w.settle(len(w.stale)); e != nil {
				return e
			}
		}
	}
	if errors.Is(err, vision.ErrTruncated) {
		w.problem("the capture is cut short: %v", err)
		return nil
	}
	return err
}

// wanted looks only at the pictures that a checkpoint asks for.
func (w *watcher) wanted(ctx context.Context) error {
	per := w.in.Fields.per()
	want := make([]bool, (w.count+per-1)/per)
	for k := range w.stamps {
		want[k/per] = want[k/per] || w.asked(k)
	}
	for k := range w.stamps {
		w.rows = append(w.rows, w.row(k))
		if w.rows[k].State == record.Fresh {
			w.lastFrame = w.rows[k].Frame
			w.seen[w.lastFrame] = true
		}
	}
	// Until the events of a timing are found, every picture is wanted.
	var timing atomic.Bool
	timing.Store(!w.timer.done())
	return w.reel.run(ctx, 0, func(i int) bool { return want[i] || timing.Load() }, func(p shot) error {
		defer w.reel.recycle(p.s)
		if w.in.Progress != nil {
			w.in.Progress(p.k)
		}
		if p.k >= len(w.stamps) || w.rows[p.k].State != record.Fresh && !w.asked(p.k) {
			return nil
		}
		if p.away {
			w.miss(w.rows[p.k], p.k)
			return nil
		}
		if p.s == nil {
			return nil
		}
		err := w.look(w.rows[p.k], p.k, p.s)
		timing.Store(!w.timer.done())
		return err
	})
}

// asked says whether a checkpoint asks for what picture k may show.
func (w *watcher) asked(k int) bool {
	a := w.clock.Captures[k]
	if w.stale[k] || w.damaged[k] || w.clock.State == clock.Untrusted {
		return false
	}
	for _, j := range w.jobs {
		if a.Frame >= j.from-1 && a.Frame <= j.to+1 {
			return true
		}
	}
	return false
}

// called says whether the card called picture k damaged.
func (w *watcher) called(k int) bool {
	_, found := slices.BinarySearch(w.in.Damaged, int64(k/w.in.Fields.per()))
	return found
}

// picture takes the next captured picture. What it is can only be said when the
// pictures after it are known.
func (w *watcher) picture(p shot) error {
	if p.k >= len(w.stamps) {
		w.reel.recycle(p.s)
		return nil
	}
	if w.in.Progress != nil && p.k%32 == 0 {
		w.in.Progress(p.k)
	}
	t := waiting{k: p.k, s: p.s}
	w.damaged[p.k] = p.damaged || p.s == nil || w.called(p.k)
	if p.s != nil {
		flat := w.clean.sample(p.k, p.s, p.equal)
		w.stale[p.k] = p.equal && !flat && !w.clean.yes()
		if p.mixed && !w.mixed {
			w.mixed = true
			w.problem("the two fields of a picture share their colour in this format (4:2:0, not coded by fields), so colour is not compared")
		}
		t.features = p.extract(w.features)
		w.features = nil
	}
	w.motion.add(t.features)
	w.waiting = append(w.waiting, t)
	return w.settle(p.k + 1 - ahead)
}

// settle says what the pictures before number end are, and gives them out.
func (w *watcher) settle(end int) error {
	n := 0
	for n < len(w.waiting) && w.waiting[n].k < end {
		t := w.waiting[n]
		n++
		pictures := w.motion.again(t.k)
		if pictures == 0 || w.lagged(t.k, pictures) {
			pictures = w.recoded(t.k)
		}
		for k := t.k; k < t.k+pictures; k++ {
			w.stale[k] = true
		}
		if err := w.give(t); err != nil {
			return err
		}
		w.reel.recycle(t.s)
		if t.features != nil {
			w.features = t.features
		}
	}
	w.waiting = append(w.waiting[:0], w.waiting[n:]...)
	return nil
}

// lagged says whether the console itself stood still about those pictures: a
// frame without a read shows no step of the game.
func (w *watcher) lagged(k, pictures int) bool {
	for f := w.clock.Captures[k].Frame - 3; f <= w.clock.Captures[k+pictures-1].Frame+1; f++ {
		if w.lagging[f] {
			return true
		}
	}
	return false
}

// row says what picture k is.
func (w *watcher) row(k int) record.FrameRow {
	a := w.clock.Captures[k]
	row := record.FrameRow{Index: int64(k), Stamp: w.stamps[k], Frame: record.NoFrame}
	switch {
	case a.State == clock.Outside:
		row.State = record.Outside
	case w.damaged[k]:
		row.State = record.Damaged
	case w.stale[k]:
		row.State = record.Repeat
	case a.State != clock.Sure || w.clock.State == clock.Untrusted:
		row.State = record.Unsure
	case a.Frame <= w.lastFrame:
		row.State, row.Frame = record.Repeat, a.Frame
	default:
		row.State, row.Frame = record.Fresh, a.Frame
	}
	return row
}

// near says whether a picture is of a frame or its neighbour, and no other.
func (w *watcher) near(row record.FrameRow, a clock.Assignment) bool {
	return row.State == record.Unsure && a.State == clock.Unsure && a.Margin <= a.Guard && w.clock.State == clock.Measured
}

// miss tells the checkpoints of a picture that is not on the shelf.
func (w *watcher) miss(row record.FrameRow, k int) {
	a := w.clock.Captures[k]
	if row.State == record.Fresh {
		w.timer.miss(a.Frame)
	}
	near := w.near(row, a)
	for _, j := range w.jobs {
		switch {
		case near:
			j.missNear(a.Frame)
		case row.State == record.Fresh:
			j.miss(a.Frame)
		}
	}
}

// look hands a picture to the checkpoints that ask for it.
func (w *watcher) look(row record.FrameRow, k int, s *screen.Screen) error {
	a := w.clock.Captures[k]
	if row.State == record.Fresh {
		if err := w.timer.look(a.Frame, s); err != nil {
			return err
		}
	}
	near := w.near(row, a)
	for _, j := range w.jobs {
		var err error
		switch {
		case near:
			err = j.lookNear(a.Frame, s)
		case row.State == record.Fresh:
			err = j.look(a.Frame, s)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// give hands a picture to everything that asks for its frame.
func (w *watcher) give(t waiting) error {
	row := w.row(t.k)
	w.rows = append(w.rows, row)
	if t.s == nil {
		return nil
	}
	if err := w.look(row, t.k, t.s); err != nil {
		return err
	}
	if row.State != record.Fresh {
		return nil
	}
	w.lastFrame = row.Frame
	w.seen[row.Frame] = true
	if w.trace != nil {
		if err := w.trace.AddFeatures(row.Frame, lockstep.Seen, t.features); err != nil {
			return err
		}
	}
	if w.in.Store != nil {
		return w.in.Store.Put(row.Frame, t.s)
	}
	return nil
}
