package harness

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"latchproof/harness/clock"
	"latchproof/harness/feeder"
	"latchproof/harness/judge"
	"latchproof/harness/live"
	"latchproof/harness/lockstep"
	"latchproof/harness/record"
	"latchproof/specs"
)

// Progress is told how far a run has come. Its methods are called from one
// goroutine at a time.
type Progress interface {
	// Stage begins a stage of a repeat: "playing" counts reads, "judging"
	// counts pictures; total is 0 when unknown.
	Stage(spec string, repeat, repeats int, stage string, total int64)
	// Advance tells how much of the stage is done.
	Advance(done int64)
	// Ended ends a repeat with a line that says how it went.
	Ended(spec string, repeat, repeats int, line string)
}

// ErrStopped says that a run was interrupted or ran out of time.
var ErrStopped = errors.New("stopped")

// syncs is how many time exchanges are made before and again after a run. The
// two groups are far apart, which is what tells the drift.
const syncs = 64

// Player plays specs on a bench.
type Player struct {
	Bench    Bench
	Out      string // folder for the run folders
	Flat     bool   // they lie in Out itself, and not in a folder of the spec's name
	Version  string // of this program
	Progress Progress
	// KeepScreens keeps the pictures of every run for the report, until
	// Run.Release is called.
	KeepScreens bool
	// Link are the time-outs of the feeder link; zero values are sound.
	Link feeder.Options
	// Live, when set, is told of checkpoints while the run goes on.
	Live Live

	board clock.Line // of the last run's board, for the next one's early judging
}

// evidence is what playing leaves before it is judged.
type evidence struct {
	board   feeder.Identity
	latches []feeder.Latch
	syncs   []feeder.Sync
	stamps  []time.Duration
	outcome feeder.Outcome
	video   bool
	report  live.Account
}

// Play plays repeat n of a spec into a run folder, judges it and seals it.
//
// A run that could not be played to its end is left as a partial run that says
// where it stopped; it is returned together with the error. The error wraps
// ErrStopped when the context ended, or the link's error (feeder.ErrGone,
// feeder.ErrSilent, ...), or the record's (record.ErrFull, ...).
func (p *Player) Play(ctx context.Context, s *specs.Spec, n, of int) (*Run, error) {
	info := p.Bench.Describe()
	run := &Run{Name: fmt.Sprintf("repeat %d", n), Dir: filepath.Join(p.folder(s), runName(n)), Spec: s}
	w, err := p.create(s, run.Dir, n, info)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", run.Dir, err)
	}
	ev, err := p.drive(ctx, s, w, run, n, of)
	if err == nil {
		err = p.judge(ctx, s, w, run, ev, info, n, of)
	}
	if err != nil {
		err = p.abort(ctx, w, run, err, ev)
		p.ended(s, n, of, oneLine(err))
		return run, err
	}
	p.ended(s, n, of, run.Line())
	if p.Live != nil {
		p.Live.Settled(s.Name, n, of, run)
	}
	return run, nil
}

// folder is where the runs of a spec lie.
func (p *Player) folder(s *specs.Spec) string {
	if p.Flat {
		return p.Out
	}
	return SpecFolder(p.Out, s)
}

func (p *Player) create(s *specs.Spec, dir string, n int, info BenchInfo) (*record.Writer, error) {
	program := s.ProgramSource
	if program == nil { // the spec was not made by specs.Load
		var err error
		if program, err = os.ReadFile(filepath.Join(s.Dir, s.ProgramFile)); err != nil {
			return nil, err
		}
	}
	bench, err := json.Marshal(info)
	if err != nil {
		return nil, err
	}
	return record.Create(dir, record.Meta{
		Spec:     record.SpecInfo{Name: s.Name, File: s.File},
		Program:  record.ProgramInfo{File: s.ProgramFile, Hash: s.Program.Hash(), Reads: s.Program.Reads()},
		Console:  record.FromProfile(s.Console),
		Start:    s.Start,
		Repeat:   n,
		Bench:    bench,
		Versions: map[string]string{"latchproof": p.Version},
		Started:  time.Now().UTC(),
	}, s.Source, program)
}

// drive plays the program and records the capture.
func (p *Player) drive(ctx context.Context, s *specs.Spec, w *record.Writer, run *Run, n, of int) (ev evidence, err error) {
	total := s.Program.Reads() + int64(s.Tail)
	p.stage(s, n, of, "playing", total)
	session, err := p.Bench.Open(ctx, n)
	if err != nil {
		return ev, err
	}
	defer func() {
		if e := session.Close(); err == nil && e != nil {
			err = fmt.Errorf("closing the bench: %w", e)
		}
	}()
	client := feeder.NewClient(session.Link(), session.Clock(), p.Link)
	defer client.Close()
	if ev.board, err = client.Hello(ctx); err != nil {
		return ev, err
	}
	if err := w.Amend(func(m *record.Meta) { m.Board = record.FromIdentity(ev.board) }); err != nil {
		return ev, err
	}
	if ev.syncs, err = client.Sync(ctx, syncs); err != nil {
		return ev, err
	}
	capture := session.Capture()
	early := p.early(s, run, capture, ev.syncs, n, of)
	if capture != nil {
		if err := capture.Start(ctx, w.Path(record.CaptureFile)); err != nil {
			return ev, fmt.Errorf("capture: %w", err)
		}
	}
	start := feeder.StartReset
	if s.Start == specs.StartPower {
		start = feeder.StartPower
	}
	var writing error
	playing, unwatch := untilBroken(ctx, capture)
	ev.outcome, err = client.Play(playing, feeder.PlayRequest{
		Runs: s.Program.Runs(), Reads: s.Program.Reads(), Tail: int64(s.Tail),
		BurstGap: s.Console.BurstGap, LatchActive: s.Console.LatchActive, Start: start,
	}, func(l feeder.Latch) {
		ev.latches = append(ev.latches, l)
		if e := w.AppendLatch(l); e != nil && writing == nil {
			writing = e
		}
		if early != nil {
			early.Latch(l, session.Clock().Now())
		}
		if len(ev.latches)%16 == 0 {
			p.advance(int64(len(ev.latches)))
		}
	})
	unwatch()
	if err == nil {
		var more []feeder.Sync
		more, err = client.Sync(ctx, syncs)
		ev.syncs = append(ev.syncs, more...)
	}
	if capture != nil {
		// The recording is ended however the run went, so that what there is
		// can be read.
		var e error
		if ev.stamps, e = capture.Stop(context.WithoutCancel(ctx)); e != nil {
			err = captureFailed(err, e, ctx)
		}
		ev.video = e == nil
		if e := p.account(w, capture, &ev); e != nil && writing == nil {
			writing = e
		}
		run.Account = ev.report
	}
	run.settleEarly(early)
	p.board, _ = clock.FitBoard(ev.syncs) // for the next repeat; what is wrong with it is said where it is judged by
	ev.stamps = p.Bench.Describe().Fields.Instants(ev.stamps)
	round(&ev)
	if e := w.SetSyncs(ev.syncs); e != nil && writing == nil {
		writing = e
	}
	if e := w.SetService(ev.outcome.Service); e != nil && writing == nil {
		writing = e
	}
	return ev, errors.Join(err, writing)
}

// round brings all instants to the microsecond that the record keeps, so that
// judging the record again gives the same verdicts.
func round(ev *evidence) {
	for i := range ev.syncs {
		ev.syncs[i].Sent = ev.syncs[i].Sent.Truncate(time.Microsecond)
		ev.syncs[i].Received = ev.syncs[i].Received.Truncate(time.Microsecond)
	}
	for i := range ev.stamps {
		ev.stamps[i] = ev.stamps[i].Truncate(time.Microsecond)
	}
}

func (p *Player) judge(ctx context.Context, s *specs.Spec, w *record.Writer, run *Run, ev evidence, info BenchInfo, n, of int) error {
	// A log of which something is missing never comes here: these are underruns
	// and faults, and they are evidence themselves.
	for _, problem := range ev.outcome.Problems {
		w.Note(problem)
		run.Problems = append(run.Problems, problem)
	}
	run.Problems = append(run.Problems, ev.report.Problems()...)
	w.SetUnderruns(ev.outcome.Underruns)
	if ev.outcome.Reason == feeder.DoneIdle {
		run.stopped = "the console stopped reading its controller"
	}
	if !ev.video {
		run.Problems = append(run.Problems, "the bench has no capture card: nothing was seen")
		run.unseenAll(s)
		return p.seal(w, run)
	}
	p.stage(s, n, of, "judging", int64(len(ev.stamps)))
	if p.KeepScreens {
		store, err := judge.NewStore(p.Out)
		if err != nil {
			return err
		}
		run.Store = store
	}
	var watched *judge.Watched
	err := w.WriteFile(record.TraceFile, func(out io.Writer) (err error) {
		watched, err = judge.Watch(ctx, judge.Input{
			Video: w.Path(record.CaptureFile), Stamps: ev.stamps, Latches: ev.latches, Syncs: ev.syncs, Underruns: ev.outcome.Underruns,
			Console: s.Console, Active: info.Active, Fields: info.Fields, Latency: clock.Around(info.Latency, info.LatencyHalf),
			CaptureRate: info.CaptureRate, Spec: s, Trace: out, Store: run.Store, Damaged: ev.report.DamagedAt,
			Progress: func(k int) { p.advance(int64(k)) },
		})
		return err
	})
	if err != nil {
		return err
	}
	run.Take(watched)
	if err := w.SetFrames(watched.Rows); err != nil {
		return err
	}
	return p.seal(w, run)
}

func (p *Player) seal(w *record.Writer, run *Run) error {
	if err := w.SetVerdicts(run.Verdict()); err != nil {
		return err
	}
	summary, err := json.Marshal(run.Clock)
	if err != nil {
		return err
	}
	if err := w.Seal(record.Result{Ended: time.Now().UTC(), Clock: summary}); err != nil {
		return err
	}
	run.State = record.Sealed
	if run.Pictures == 0 {
		return nil
	}
	run.Trace, err = lockstep.OpenTrace(w.Path(record.TraceFile))
	return err
}

// abort marks the run as partial and says why.
func (p *Player) abort(ctx context.Context, w *record.Writer, run *Run, cause error, ev evidence) error {
	if ctx.Err() != nil {
		// The test library's own cause says how: an interrupt, or a time-out.
		why := context.Cause(ctx).Error()
		if errors.Is(ctx.Err(), context.DeadlineExceeded) {
			why = "out of time"
		}
		cause = fmt.Errorf("%w: %s", ErrStopped, why)
	}
	where := "before the first read"
	if n := len(ev.latches); n > 0 {
		where = fmt.Sprintf("after latch pulse %d", ev.latches[n-1].Index)
	}
	run.State = record.Partial
	run.Problems = append(append(run.Problems, oneLine(cause)), ev.report.Problems()...)
	run.unseenAll(run.Spec)
	if err := w.Abort(where, oneLine(cause)); err != nil {
		return errors.Join(cause, fmt.Errorf("the run could not even be marked as partial: %w", err))
	}
	return cause
}

func (p *Player) stage(s *specs.Spec, n, of int, what string, total int64) {
	if p.Progress != nil {
		p.Progress.Stage(s.Name, n, of, what, total)
	}
}

func (p *Player) advance(n int64) {
	if p.Progress != nil {
		p.Progress.Advance(n)
	}
}

func (p *Player) ended(s *specs.Spec, n, of int, line string) {
	if p.Progress != nil {
		p.Progress.Ended(s.Name, n, of, line)
	}
}

// oneLine is an error's text with the lines of joined errors after one
// another, each once.
func oneLine(err error) string {
	var out []string
	for _, l := range strings.Split(err.Error(), "\n") {
		if !slices.Contains(out, l) {
			out = append(out, l)
		}
	}
	return strings.Join(out, "; ")
}

func runName(n int) string { return fmt.Sprintf("run-%03d", n) }

// SpecFolder is where the runs of a spec lie in an output folder.
func SpecFolder(out string, s *specs.Spec) string { return filepath.Join(out, folderName(s.Name)) }

// folderName makes a folder's name of a spec's name: letters, digits, '.', '_'
// and '-' stay.
func folderName(name string) string {
	b := []rune(name)
	for i, r := range b {
		ok := r == '-' || r == '_' || r == '.' && i > 0 || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z'
		if !ok {
			b[i] = '-'
		}
	}
	if len(b) == 0 {
		return "spec"
	}
	if len(b) > 80 {
		b = b[:80]
	}
	return string(b)
}
