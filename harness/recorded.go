package harness

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"latchproof/harness/clock"
	"latchproof/harness/judge"
	"latchproof/harness/live"
	"latchproof/harness/lockstep"
	"latchproof/harness/record"
	"latchproof/specs"
	"latchproof/specs/console"
)

// JudgeRecorded judges a sealed run in dir against a spec. When keepScreens is
// set the pictures are kept for a report, until Run.Release is called; otherwise
// only those that a checkpoint asks for are looked at.
//
// Errors: those of record.OpenFiles, of judge.Watch, and that the spec is for
// another console.
func JudgeRecorded(ctx context.Context, dir string, s *specs.Spec, keepScreens bool, progress func(pictures int)) (_ *Run, err error) {
	rec, err := record.OpenFiles(dir, record.CaptureFile, record.FramesFile, record.ReadsFile)
	if err != nil {
		return nil, err
	}
	in, err := RecordedInput(rec, s)
	if err != nil {
		return nil, err
	}
	in.Progress = progress
	out := &Run{Name: filepath.Base(filepath.Clean(dir)), Dir: dir, Spec: s, State: rec.Meta.State}
	defer func() {
		if err != nil {
			err = errors.Join(err, out.Close())
		}
	}()
	out.Problems = append(append(out.Problems, rec.Meta.Damage...), rec.Meta.Notes...)
	if keepScreens {
		if out.Store, err = judge.NewStore(os.TempDir()); err != nil {
			return nil, err
		}
		in.Store = out.Store
	}
	if rec.Has(record.TraceFile) {
		var warning string
		if out.Trace, out.done, warning, err = openTrace(ctx, rec, in); err != nil {
			return nil, fmt.Errorf("%s: %w", dir, err)
		}
		if warning != "" {
			out.Problems = append(out.Problems, warning)
		}
	}
	w, err := judge.Watch(ctx, in)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", dir, err)
	}
	out.Take(w)
	return out, nil
}

// RecordedInput is all that a sealed run is judged from against a spec: what was
// found of its pictures when it was played is in Known. Errors: those of the
// record, and that the spec is for another console.
func RecordedInput(rec *record.Run, s *specs.Spec) (judge.Input, error) {
	in, err := recordedInput(rec)
	if err != nil {
		return in, err
	}
	in.Spec = s
	if s.Console.Width != in.Console.Width || s.Console.Height != in.Console.Height || s.Console.Rate != in.Console.Rate {
		return in, fmt.Errorf("%s: the run was made on %s and the spec wants %s", rec.Dir, in.Console.Name, s.Console.Name)
	}
	if in.Latches, err = rec.Reads(); err != nil {
		return in, err
	}
	in.Underruns = rec.Meta.Underruns
	if rec.Has(record.SyncsFile) {
		if in.Syncs, err = rec.Syncs(); err != nil {
			return in, err
		}
	}
	for _, r := range in.Known.Rows {
		in.Stamps = append(in.Stamps, r.Stamp)
	}
	return in, nil
}

// recordedInput is what judging and rebuilding need of a run's own record.
func recordedInput(rec *record.Run) (judge.Input, error) {
	in := judge.Input{Video: rec.Path(record.CaptureFile), Console: rec.Meta.Console.Profile(), Known: &judge.Known{}}
	info, err := RecordedBench(rec)
	if err != nil {
		return in, err
	}
	in.Active, in.Fields, in.CaptureRate = info.Active, info.Fields, info.CaptureRate
	in.Latency = clock.Around(info.Latency, info.LatencyHalf)
	summary, err := recordedClock(rec)
	if err != nil {
		return in, err
	}
	in.Known.Against = summary.Contradicted
	var captured live.Account
	if len(rec.Meta.Capture) > 0 {
		if err := json.Unmarshal(rec.Meta.Capture, &captured); err != nil {
			return in, fmt.Errorf("%s: run.json: capture: %w", rec.Dir, err)
		}
	}
	in.Damaged = captured.DamagedAt
	in.Known.Rows, err = rec.Frames()
	return in, err
}

// RecordedBench is what a run's record says of its bench.
func RecordedBench(rec *record.Run) (BenchInfo, error) {
	var info BenchInfo
	if len(rec.Meta.Bench) > 0 {
		if err := json.Unmarshal(rec.Meta.Bench, &info); err != nil {
			return info, fmt.Errorf("%s: run.json: bench: %w", rec.Dir, err)
		}
	}
	return info, nil
}

func recordedClock(rec *record.Run) (clock.Summary, error) {
	var s clock.Summary
	if len(rec.Meta.Clock) > 0 {
		if err := json.Unmarshal(rec.Meta.Clock, &s); err != nil {
			return s, fmt.Errorf("%s: run.json: clock: %w", rec.Dir, err)
		}
	}
	return s, nil
}

// Traced is what comparing needs of a sealed run.
type Traced struct {
	lockstep.Run
	Record *record.Run
	Clock  clock.Summary
	// Warning says that the trace was damaged and rebuilt from the video; empty
	// when it was not.
	Warning string
	done    func() error
}

// OpenTraced opens the trace and the reads of a sealed run, named by its
// folder. No video is decoded, unless the trace is damaged: then it is rebuilt
// from the video into a temporary file, the run is left as it is, and Warning
// says so. Call Close.
//
// Errors: those of record.OpenFiles (that of a damaged trace only when the video
// or frames.csv is damaged too), ErrDamaged when the frame clock is not trusted,
// those of judge.ReadLog.
func OpenTraced(ctx context.Context, dir string) (*Traced, error) {
	rec, err := record.OpenFiles(dir, record.ReadsFile, record.ProgramFile)
	if err != nil {
		return nil, err
	}
	out := &Traced{Run: lockstep.Run{Name: dir, Program: rec.Meta.Program.Hash}, Record: rec}
	if out.Clock, err = recordedClock(rec); err != nil {
		return nil, err
	}
	if out.Clock.State == clock.Untrusted {
		return nil, fmt.Errorf("%s: %w: its frame clock is not trusted: %s", dir, ErrDamaged, out.Clock.Why)
	}
	latches, err := rec.Reads()
	if err != nil {
		return nil, err
	}
	if len(latches) > 0 {
		if out.Reads, err = judge.ReadLog(latches, rec.Meta.Underruns, rec.Meta.Console.Profile()); err != nil {
			return nil, fmt.Errorf("%s: %w", dir, err)
		}
	}
	if out.Trace, out.done, out.Warning, err = openTrace(ctx, rec, judge.Input{}); err != nil {
		return nil, err
	}
	out.LastFrame = max(out.Trace.Len()-1, console.Frame(out.Clock.LastFrame))
	return out, nil
}

// Close removes a trace that was rebuilt.
func (t *Traced) Close() error {
	if t.done == nil {
		return nil
	}
	err := t.done()
	t.done = nil
	return err
}

// openTrace opens the run's trace, or one that is rebuilt. in is what
// recordedInput gives; with no video in it, it is made when it is needed.
func openTrace(ctx context.Context, rec *record.Run, in judge.Input) (_ lockstep.Trace, done func() error, warning string, err error) {
	damage := rec.Check(record.TraceFile)
	if damage == nil {
		var t lockstep.Trace
		if t, err = lockstep.OpenTrace(rec.Path(record.TraceFile)); err == nil {
			return t, nil, "", nil
		}
		if damage = err; !errors.Is(err, lockstep.ErrTrace) {
			return nil, nil, "", err
		}
	}
	for _, name := range []string{record.CaptureFile, record.FramesFile} {
		if err := rec.Check(name); err != nil {
			return nil, nil, "", fmt.Errorf("%w; it cannot be rebuilt: %w", damage, err)
		}
	}
	if in.Video == "" {
		if in, err = recordedInput(rec); err != nil {
			return nil, nil, "", err
		}
	}
	folder, err := os.MkdirTemp("", "latchproof-trace-")
	if err != nil {
		return nil, nil, "", err
	}
	done = func() error { return os.RemoveAll(folder) }
	defer func() {
		if err != nil {
			err = errors.Join(err, done())
		}
	}()
	path := filepath.Join(folder, record.TraceFile)
	f, err := os.Create(path)
	if err != nil {
		return nil, nil, "", err
	}
	sum := sha256.New()
	in.Trace = io.MultiWriter(f, sum)
	if err = errors.Join(judge.Rebuild(ctx, in), f.Close()); err != nil {
		return nil, nil, "", fmt.Errorf("%w; it cannot be rebuilt: %w", damage, err)
	}
	t, err := lockstep.OpenTrace(path)
	if err != nil {
		return nil, nil, "", err
	}
	warning = fmt.Sprintf("the trace of %s was damaged and was rebuilt from its video for this comparison", rec.Dir)
	if hex.EncodeToString(sum.Sum(nil)) == rec.Meta.Files[record.TraceFile].SHA256 {
		warning += "; it is the one that was sealed, to the last byte"
	}
	return t, done, warning, nil
}
