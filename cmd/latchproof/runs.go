package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"latchproof/harness"
	"latchproof/harness/clock"
	"latchproof/harness/judge"
	"latchproof/harness/lockstep"
	"latchproof/harness/record"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/specs/program"
)

// benchOf is what the run's record says of its bench.
func benchOf(run *record.Run) (harness.BenchInfo, error) {
	var info harness.BenchInfo
	if len(run.Meta.Bench) == 0 {
		return info, nil
	}
	if err := json.Unmarshal(run.Meta.Bench, &info); err != nil {
		return info, fmt.Errorf("%s: run.json: bench: %w", run.Dir, err)
	}
	return info, nil
}

// judgeRun judges a recorded run against a spec.
func judgeRun(ctx context.Context, dir string, s *specs.Spec, keep bool) (*harness.Run, error) {
	run, err := record.OpenFiles(dir, record.CaptureFile, record.FramesFile, record.ReadsFile)
	if err != nil {
		return nil, err
	}
	info, err := benchOf(run)
	if err != nil {
		return nil, err
	}
	in := judge.Input{
		Video: run.Path(record.CaptureFile), Console: run.Meta.Console.Profile(),
		Active: info.Active, Latency: clock.Around(info.Latency, info.LatencyHalf), CaptureRate: info.CaptureRate, Spec: s,
	}
	if s.Console.Width != in.Console.Width || s.Console.Height != in.Console.Height || s.Console.Rate != in.Console.Rate {
		return nil, fmt.Errorf("%s: the run was made on %s and the spec wants %s", dir, in.Console.Name, s.Console.Name)
	}
	if in.Latches, err = run.Reads(); err != nil {
		return nil, err
	}
	if run.Has(record.SyncsFile) {
		if in.Syncs, err = run.Syncs(); err != nil {
			return nil, err
		}
	}
	rows, err := run.Frames()
	if err != nil {
		return nil, err
	}
	for _, r := range rows {
		in.Stamps = append(in.Stamps, r.Stamp)
	}
	out := &harness.Run{Name: filepath.Base(filepath.Clean(dir)), Dir: dir, Spec: s, State: run.Meta.State}
	in.Underruns = run.Meta.Underruns
	out.Problems = append(append(out.Problems, run.Meta.Damage...), run.Meta.Notes...)
	if keep {
		if out.Store, err = judge.NewStore(os.TempDir()); err != nil {
			return nil, err
		}
		in.Store = out.Store
	}
	w, err := judge.Watch(ctx, in)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("%s: %w", dir, err), out.Release())
	}
	out.Take(w)
	if run.Has(record.TraceFile) {
		if out.Trace, err = lockstep.OpenTrace(run.Path(record.TraceFile)); err != nil {
			return nil, fmt.Errorf("%s: %w", dir, err)
		}
	}
	return out, nil
}

// traced is what comparing needs of a run.
type traced struct {
	lockstep.Run
	program *program.Program // nil when the run has none (an imported video)
	assumed bool             // its frame clock is assumed, not measured
}

// traceOf opens what comparing needs of a run: its trace and its reads. No
// video is decoded.
func traceOf(dir string) (traced, error) {
	none := traced{}
	run, err := record.OpenFiles(dir, record.TraceFile, record.ReadsFile, record.ProgramFile)
	if err != nil {
		return none, err
	}
	t, err := lockstep.OpenTrace(run.Path(record.TraceFile))
	if err != nil {
		return none, fmt.Errorf("%s: %w", dir, err)
	}
	out := traced{Run: lockstep.Run{Name: dir, Trace: t, LastFrame: t.Len() - 1}}
	var summary clock.Summary
	if len(run.Meta.Clock) > 0 {
		if err := json.Unmarshal(run.Meta.Clock, &summary); err != nil {
			return none, fmt.Errorf("%s: run.json: clock: %w", dir, err)
		}
		if summary.State == clock.Untrusted {
			return none, fmt.Errorf("%s: %w: its frame clock is not trusted: %s", dir, harness.ErrDamaged, summary.Why)
		}
		out.assumed = summary.State == clock.Assumed
		out.LastFrame = max(out.LastFrame, console.Frame(summary.LastFrame))
	}
	latches, err := run.Reads()
	if err != nil {
		return none, err
	}
	profile := run.Meta.Console.Profile()
	if len(latches) > 0 {
		if out.Reads, err = judge.ReadLog(latches, run.Meta.Underruns, profile); err != nil {
			return none, fmt.Errorf("%s: %w", dir, err)
		}
	}
	out.program = programOf(run, profile)
	return out, nil
}

// programOf is the run's own copy of its program, or nil when it has none (an
// imported video).
func programOf(run *record.Run, profile console.Profile) *program.Program {
	src, err := run.ReadFile(record.ProgramFile)
	if err != nil || len(src) == 0 {
		return nil
	}
	p, err := parseProgram(run.Meta.Program.File, src, profile)
	if err != nil {
		return nil
	}
	return p
}

// parseRect reads x,y,w,h.
func parseRect(s string) (image.Rectangle, error) {
	parts := strings.Split(s, ",")
	var v [4]int
	bad := len(parts) != 4
	for i := 0; i < len(parts) && i < 4; i++ {
		n, err := strconv.Atoi(strings.TrimSpace(parts[i]))
		if err != nil || n < 0 || n > 1<<16 {
			bad = true
		}
		v[i] = n
	}
	if bad || v[2] == 0 || v[3] == 0 {
		return image.Rectangle{}, usageError{fmt.Errorf("%q is not x,y,w,h in whole pixels with a width and a height", s)}
	}
	return image.Rect(v[0], v[1], v[0]+v[2], v[1]+v[3]), nil
}
