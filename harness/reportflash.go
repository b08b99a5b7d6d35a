package harness

import (
	"errors"
	"fmt"

	"latchproof/harness/flash"
	"latchproof/harness/lockstep"
	"latchproof/harness/record"
	"latchproof/reports"
	"latchproof/specs/console"
)

// reportFlash looks for flashing stretches in the first run of every family, of
// a later family from two seconds before it parted. hz is the frame rate where a
// run's clock has none. It is nil when no run could be compared.
func reportFlash(s *Steps, runs map[string]*Run, hz float64) (*reports.Flash, error) {
	out := &reports.Flash{}
	for _, f := range s.Families {
		r := runs[f.Runs[0]]
		if r == nil || r.State != record.Sealed {
			continue
		}
		rate := hz
		if r.Clock.FrameHz > 0 {
			rate = r.Clock.FrameHz
		}
		fr := reports.FlashRun{Repeat: r.Name, RateHz: rate}
		t, done, err := traceOf(r)
		switch {
		case errors.Is(err, record.ErrDropped):
			fr.Why = "its trace was removed to save room"
		case errors.Is(err, record.ErrDamaged), errors.Is(err, lockstep.ErrTrace):
			fr.Why = "its trace is damaged"
		case err != nil:
			return nil, fmt.Errorf("%s: %w", r.Name, err)
		default:
			from := max(f.From-console.Frame(2*rate), 0)
			found, err := flash.OfTrace(t, from, rate)
			if err = errors.Join(err, done()); errors.Is(err, lockstep.ErrTrace) {
				fr.Why = "its trace is damaged"
			} else if err != nil {
				return nil, fmt.Errorf("%s: flashes: %w", r.Name, err)
			} else {
				fr.From, fr.Frames, fr.Unseen, fr.Gap = int64(from), found.Frames, found.Unseen, found.Gap
				fr.Stretches = flashStretches(found.Stretches, f.From, rate)
			}
		}
		out.Runs = append(out.Runs, fr)
	}
	if len(out.Runs) == 0 {
		return nil, nil
	}
	return out, nil
}

// traceOf is the trace that a run holds, or that of its folder.
func traceOf(r *Run) (_ lockstep.Trace, done func() error, err error) {
	if r.Trace != nil {
		return r.Trace, func() error { return nil }, nil
	}
	rec, err := record.OpenFiles(r.Dir, record.TraceFile)
	if err != nil {
		return nil, nil, err
	}
	t, err := lockstep.OpenTrace(rec.Path(record.TraceFile))
	if err != nil {
		return nil, nil, err
	}
	return t, t.Close, nil
}

// flashStretches are those that reach the frame at which the family parted; its
// parent has those before.
func flashStretches(found []flash.Stretch, parted console.Frame, hz float64) []reports.FlashStretch {
	var out []reports.FlashStretch
	for _, s := range found {
		if s.To < parted {
			continue
		}
		out = append(out, reports.FlashStretch{
			Kind: string(s.Kind), From: int64(s.From), To: int64(s.To),
			FromSeconds: float64(s.From) / hz, ToSeconds: float64(s.To) / hz,
			Flashes: s.Flashes, Area: s.Area, Unseen: s.Unseen,
			Place: [4]int{s.Place.Min.X, s.Place.Min.Y, s.Place.Dx(), s.Place.Dy()},
		})
	}
	return out
}
