package live

import (
	"fmt"
	"image"
	"sync"
	"time"

	"latchproof/harness/clock"
	"latchproof/harness/feeder"
	"latchproof/harness/judge"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

// EarlyOptions say what a run is judged by while it goes on.
type EarlyOptions struct {
	Spec    *specs.Spec
	Active  image.Rectangle // where the raster lies in the picture; empty: all of it
	Fields  judge.Fields
	Latency clock.Interval // calibrated; nothing can be judged early without
	Rate    float64        // of the pictures, hertz; 0: unknown, then little can be told
	Syncs   []feeder.Sync  // made before the run
	// Board is the line of an earlier run with the same board, for its rate; the
	// zero Line when there is none.
	Board clock.Line
	// Virtual says that time is simulated: then the arrival of a record tells
	// nothing, and pictures wait for the reads that they belong to.
	Virtual bool
	// Tell is told of every checkpoint as it falls, from one goroutine.
	Tell func(Finding)
}

// Finding is the early judgement of a checkpoint.
type Finding struct {
	Name    string        `json:"name"`
	Kind    string        `json:"kind"`
	Verdict judge.Verdict `json:"verdict"`
	Frame   console.Frame `json:"frame"` // that decided; for unseen the first one asked for
	Score   *float64      `json:"score,omitempty"`
	Why     string        `json:"why"`
}

// Early judges checkpoints while the run goes on. Its verdicts are provisional:
// frames are counted by the reads so far and the calibrated latency, pictures that
// the card repeated are not found out, and pictures that are skipped because the
// judging is behind are unseen. Latch may be called from any goroutine; the rest
// from one at a time.
type Early struct {
	o    EarlyOptions
	eye  *eye
	jobs []*task

	mu             sync.Mutex
	more           *sync.Cond
	frames         *frames
	latches, heard int64 // log records so far, and when it was last waited for more
	vain           bool  // that was in vain

	row      steady
	pending  []taken
	last     console.Frame
	findings []Finding
	failed   error
}

// taken is a picture that waits for its reads.
type taken struct {
	at    time.Duration // less the latency
	doubt time.Duration
	s     *screen.Screen
}

// waiting is how many pictures may wait for their reads: about a second.
const waiting = 64

// patience is how long, in simulated time, the oldest picture waits for reads
// beyond that.
const patience = 250 * time.Millisecond

// anyBoard is how far a board's clock may be off when nothing is known of it:
// 100 parts per million, as crystals are sold ("common practice, no source").
const anyBoard = 100e-6

// NewEarly begins to judge a run. Errors: that the latency is not calibrated, or
// those of clock.FitBoard.
func NewEarly(o EarlyOptions) (*Early, error) {
	if !o.Latency.Known() {
		return nil, fmt.Errorf("the bench has no calibrated latency, so no frame can be told before the run is over")
	}
	line, err := clock.FitBoard(o.Syncs)
	if err != nil {
		return nil, err
	}
	line.RateHalf = min(line.RateHalf, anyBoard)
	if o.Board.Known() {
		line.Rate, line.RateHalf = o.Board.Rate, o.Board.RateHalf+2e-6
	}
	e := &Early{o: o, eye: newEye(o.Spec.Console, o.Active, o.Fields), frames: newFrames(o.Spec.Console, line), last: -1}
	e.more = sync.NewCond(&e.mu)
	if o.Rate > 0 {
		e.row.period = 1e9 / o.Rate
	}
	for _, cp := range o.Spec.Checkpoints {
		e.jobs = append(e.jobs, newTask(cp))
	}
	return e, nil
}

// Latch takes the next log record, which arrived at an instant of the host's
// clock.
func (e *Early) Latch(l feeder.Latch, arrived time.Duration) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.frames.latch(l)
	e.latches++
	if !e.o.Virtual {
		e.frames.drift.arrived(arrived, arrived-e.frames.line.At(l.Micros))
	}
	e.more.Broadcast()
}

// Picture takes the next picture of the card. It is not kept.
func (e *Early) Picture(b Buffer) {
	if e.failed != nil {
		return
	}
	at, doubt := e.row.instant(b)
	screens, err := e.eye.look(b)
	if err != nil {
		e.failed = err
		return
	}
	for i, s := range screens {
		at := at
		if i > 0 && e.o.Rate > 0 {
			at += time.Duration(0.5e9 / e.o.Rate)
		}
		e.pending = append(e.pending, taken{at - e.o.Latency.Mid(), doubt, s})
	}
	e.drain(waiting)
}

// drain judges the pictures whose reads have come, and the oldest of more than
// most.
func (e *Early) drain(most int) {
	n := 0
	for ; n < len(e.pending) && e.failed == nil; n++ {
		p := e.pending[n]
		if !e.ready(p.at, len(e.pending)-n > most) {
			break
		}
		e.failed = e.give(p)
		e.eye.recycle(p.s)
	}
	e.pending = append(e.pending[:0], e.pending[n:]...)
}

// ready says whether a picture can be judged: when its reads have come, or it
// must make room for others.
func (e *Early) ready(at time.Duration, must bool) bool {
	e.mu.Lock()
	defer e.mu.Unlock()
	if e.frames.covers(at) || must && !e.o.Virtual {
		return true
	}
	if !must {
		return false
	}
	// Once in vain is enough until more reads come: the console may make none.
	if e.vain && e.heard == e.latches {
		return true
	}
	late := time.AfterFunc(patience, e.more.Broadcast)
	defer late.Stop()
	for end := time.Now().Add(patience); !e.frames.covers(at) && time.Now().Before(end); {
		e.more.Wait()
	}
	e.vain, e.heard = !e.frames.covers(at), e.latches
	return true
}

// give hands a picture to the checkpoints that ask for its frame.
func (e *Early) give(p taken) error {
	e.mu.Lock()
	x, doubt := e.frames.frame(p.at)
	any := e.frames.any
	e.resolve()
	e.mu.Unlock()
	if !any {
		return nil
	}
	period := e.o.Spec.Console.Rate.Period()
	guard := doubt + (e.o.Latency.Half()+p.doubt).Seconds()/period
	lo, hi := floor(x-guard), floor(x+guard)
	for _, t := range e.jobs {
		if t.placed && !t.told && lo > t.to {
			e.tell(t, t.settle(true))
		}
	}
	if hi < 0 {
		return nil
	}
	for _, t := range e.jobs {
		if !t.placed || t.told || lo < t.from || hi > t.to {
			continue
		}
		if lo != hi && (!t.cp.Every || t.watch != nil) || lo == hi && lo <= e.last {
			continue
		}
		fell, err := t.look(lo, p.s)
		if err != nil {
			return err
		}
		if fell {
			e.tell(t, t.settle(false))
		}
	}
	if lo == hi {
		e.last = max(e.last, lo)
	}
	return nil
}

// resolve finds the frames of checkpoints whose reads have come.
func (e *Early) resolve() {
	for _, t := range e.jobs {
		if !t.placed || t.to == open {
			t.place(e.frames.ofRead, e.o.Spec.Program.Marks())
		}
	}
}

func (e *Early) tell(t *task, f Finding) {
	t.told = true
	e.findings = append(e.findings, f)
	if e.o.Tell != nil {
		e.o.Tell(f)
	}
}

// Finish judges what is still waiting when the last picture has come and gives
// all findings, in the order in which they fell. The error says why judging ended
// early; the findings are those made until then.
func (e *Early) Finish() ([]Finding, error) {
	e.drain(0)
	for _, t := range e.jobs {
		if !t.told && e.failed == nil {
			e.tell(t, t.settle(true))
		}
	}
	e.eye.close()
	return e.findings, e.failed
}

func floor(x float64) console.Frame {
	f := console.Frame(x)
	if float64(f) > x {
		f--
	}
	return f
}
