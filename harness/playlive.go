package harness

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"latchproof/harness/clock"
	"latchproof/harness/feeder"
	"latchproof/harness/judge"
	"latchproof/harness/live"
	"latchproof/harness/record"
	"latchproof/specs"
)

// Live is told of checkpoints while a run goes on. What it is told is
// provisional (see live.Early); the judgement of the sealed run takes its place.
type Live interface {
	// Fell tells of a checkpoint as soon as its verdict is known. It is called
	// from one goroutine at a time, and holds up the judging, not the recording.
	Fell(spec string, repeat, repeats int, f live.Finding)
	// Settled tells that the run is sealed and judged.
	Settled(spec string, repeat, repeats int, run *Run)
}

// early begins to judge a run while it goes on; nil when nobody asked, or it
// cannot be done: then the run says why.
func (p *Player) early(s *specs.Spec, run *Run, capture Capture, syncs []feeder.Sync, n, of int) *live.Early {
	if p.Live == nil {
		return nil
	}
	view, ok := capture.(Viewable)
	if !ok {
		run.EarlyWhy = "the bench has no capture card whose pictures can be seen while the run goes on"
		return nil
	}
	info := p.Bench.Describe()
	e, err := live.NewEarly(live.EarlyOptions{
		Spec: s, Active: info.Active, Fields: info.Fields, Rate: info.CaptureRate,
		Latency: clock.Around(info.Latency, info.LatencyHalf), Syncs: syncs, Board: p.board, Virtual: info.Simulated,
		Tell: func(f live.Finding) { p.Live.Fell(s.Name, n, of, f) },
	})
	if err != nil {
		run.EarlyWhy = err.Error()
		return nil
	}
	view.View(e.Picture)
	return e
}

// settleEarly keeps what was found while the run went on.
func (r *Run) settleEarly(e *live.Early) {
	if e == nil {
		return
	}
	var err error
	if r.Early, err = e.Finish(); err != nil {
		r.EarlyWhy = err.Error()
	}
}

// account keeps what the capture says of itself.
func (p *Player) account(w *record.Writer, capture Capture, ev *evidence) error {
	a, ok := capture.(Accountable)
	if !ok {
		return nil
	}
	ev.report = a.Report()
	src, err := json.Marshal(ev.report)
	if err != nil {
		return err
	}
	for _, problem := range ev.report.Problems() {
		w.Note(problem)
	}
	return w.Amend(func(m *record.Meta) { m.Capture = src })
}

var errBroken = errors.New("the capture broke off")

// untilBroken is a context that also ends when the capture cannot go on.
func untilBroken(ctx context.Context, capture Capture) (context.Context, func()) {
	b, ok := capture.(Breakable)
	if !ok {
		return ctx, func() {}
	}
	ctx, cancel := context.WithCancelCause(ctx)
	done := make(chan struct{})
	go func() {
		defer close(done)
		select {
		case <-b.Broken():
			cancel(errBroken)
		case <-ctx.Done():
		}
	}()
	return ctx, func() { cancel(nil); <-done }
}

// captureFailed joins what went wrong with a run and with its capture. When the
// run was stopped because of the capture, only that is worth telling.
func captureFailed(run, capture error, ctx context.Context) error {
	capture = fmt.Errorf("capture: %w", capture)
	if errors.Is(run, context.Canceled) && ctx.Err() == nil {
		return capture
	}
	return errors.Join(run, capture)
}

// Difference is a checkpoint of which the judgement while the run went on and
// that of the sealed run say different things.
type Difference struct {
	Early live.Finding
	Final judge.Result
}

// String is the difference in a sentence.
func (d Difference) String() string {
	return fmt.Sprintf("%s: live it was %s at frame %d, and the sealed run says %s at frame %d: %s",
		d.Final.Name, d.Early.Verdict, d.Early.Frame, d.Final.Verdict, d.Final.Frame, d.Final.Why)
}

// Differences are the checkpoints whose early finding is not the final one: the
// verdict differs, or the frame that decided comes before the final one. That it
// comes later only says that early judging is sure of fewer pictures.
func (r *Run) Differences() (out []Difference) {
	for _, f := range r.Early {
		final, ok := r.Result(f.Name)
		if !ok {
			continue
		}
		decided := f.Verdict == judge.Fail && r.every(f.Name) || f.Verdict == judge.Pass && !r.every(f.Name)
		if f.Verdict != final.Verdict || decided && f.Frame < final.Frame {
			out = append(out, Difference{f, final})
		}
	}
	return out
}

// every says whether a checkpoint asks for all frames of its range.
func (r *Run) every(name string) bool {
	if r.Spec == nil {
		return false
	}
	for _, cp := range r.Spec.Checkpoints {
		if cp.Name == name {
			return cp.Every || cp.Series
		}
	}
	return false
}
