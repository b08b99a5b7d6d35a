package baseline

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"latchproof/harness/clock"
	"latchproof/harness/record"
)

// Checkpoints is what a run's checkpoints and its timing came to.
type Checkpoints struct {
	Asked  int      // checkpoints, and the timing if one is asked for
	Failed []string // names
	Unseen []string // names
}

// Sealed is what is looked at of a sealed run before it is taken for a baseline
// or for a candidate.
type Sealed struct {
	Dir         string
	Record      *record.Run
	Clock       clock.Summary
	Checkpoints Checkpoints
}

// OpenSealed opens a run. Every file is checked against its hash when all is
// set, otherwise only those that are needed for judging (not the video).
// Errors: those of record.Open, and record.ErrDamaged when what the run says of
// its clock or its checkpoints cannot be read, or when a file is larger than
// any run has it.
func OpenSealed(dir string, all bool) (*Sealed, error) {
	if err := sizes(dir); err != nil {
		return nil, err
	}
	var rec *record.Run
	var err error
	if all {
		rec, err = record.Open(dir)
	} else if rec, err = record.OpenFiles(dir); err == nil {
		for _, name := range []string{record.ReadsFile, record.ServiceFile, record.VerdictsFile, record.SpecFile, record.ProgramFile} {
			if rec.Has(name) {
				err = errors.Join(err, rec.Check(name))
			}
		}
	}
	if err != nil {
		return nil, err
	}
	s := &Sealed{Dir: dir, Record: rec}
	bad := func(file string, err error) error {
		return &record.DamagedError{Dir: dir, Problems: []record.Problem{{File: file, What: err.Error()}}}
	}
	if len(rec.Meta.Clock) > 0 {
		if err := json.Unmarshal(rec.Meta.Clock, &s.Clock); err != nil {
			return nil, bad(record.RunFile, fmt.Errorf("clock: %w", err))
		}
	}
	if s.Checkpoints, err = checkpointsOf(rec); err != nil {
		return nil, bad(record.VerdictsFile, err)
	}
	return s, nil
}

// limits are how large the files of a run are read at most, bytes: a run of the
// longest program with a read log of the longest rows stays below a tenth of
// them.
var limits = map[string]int64{
	record.RunFile: 64 << 20, record.SpecFile: 16 << 20, record.ProgramFile: 16 << 20,
	record.ReadsFile: 512 << 20, record.FramesFile: 512 << 20, record.SyncsFile: 64 << 20,
	record.ServiceFile: 512 << 20, record.VerdictsFile: 256 << 20,
}

// sizes refuses a run with a file that is read whole and is too large for it,
// and one that is no regular file.
func sizes(dir string) error {
	for name, most := range limits {
		info, err := os.Lstat(filepath.Join(dir, name))
		switch {
		case errors.Is(err, fs.ErrNotExist):
		case err != nil:
			return err
		case !info.Mode().IsRegular():
			return &record.DamagedError{Dir: dir, Problems: []record.Problem{{File: name, What: "is not a regular file"}}}
		case info.Size() > most:
			return &record.DamagedError{Dir: dir, Problems: []record.Problem{{File: name, What: fmt.Sprintf("more than %d bytes", most)}}}
		}
	}
	return nil
}

// checkpointsOf reads what the run's verdicts say.
func checkpointsOf(rec *record.Run) (Checkpoints, error) {
	var out Checkpoints
	if !rec.Has(record.VerdictsFile) {
		return out, nil
	}
	src, err := rec.ReadFile(record.VerdictsFile)
	if err != nil {
		return out, err
	}
	type one struct {
		Name    string `json:"name"`
		Verdict string `json:"verdict"`
	}
	var v struct {
		Checkpoints []one `json:"checkpoints"`
		Timing      *one  `json:"timing"`
	}
	if err := json.Unmarshal(src, &v); err != nil {
		return out, err
	}
	if v.Timing != nil {
		v.Timing.Name = "timing"
		v.Checkpoints = append(v.Checkpoints, *v.Timing)
	}
	out.Asked = len(v.Checkpoints)
	for _, c := range v.Checkpoints {
		switch c.Verdict {
		case "pass":
		case "fail":
			out.Failed = append(out.Failed, c.Name)
		default:
			out.Unseen = append(out.Unseen, c.Name)
		}
	}
	return out, nil
}

// Fit says why a run is no evidence that two benches can be compared by: its
// clock is not a measured one, or it has no trace. It is nil when it is.
func (s *Sealed) Fit() error {
	switch {
	case s.Clock.State == clock.Untrusted:
		return fmt.Errorf("its frame clock is not trusted: %s", s.Clock.Why)
	case s.Clock.State == clock.Assumed:
		return errors.New("its frame clock is assumed (the bench has no calibrated latency), so its frames may be one off")
	case s.Clock.State != clock.Measured:
		return fmt.Errorf("its frame clock is %q, not measured", s.Clock.State)
	case !s.Record.Has(record.TraceFile):
		return errors.New("it has no trace: nothing was captured")
	case len(s.Record.Meta.Damage) > 0:
		return fmt.Errorf("its evidence is incomplete: %s", strings.Join(s.Record.Meta.Damage, "; "))
	}
	return nil
}

// SameBench says in which way two runs come from different benches; nil when
// both say the same of every part, its firmware and its calibration.
func SameBench(a, b *record.Run) error {
	switch {
	case !sameJSON(a.Meta.Bench, b.Meta.Bench):
		return fmt.Errorf("%s and %s were played on different benches, or on one that was calibrated anew between them", a.Dir, b.Dir)
	case !slices.Equal(boardOf(a), boardOf(b)):
		return fmt.Errorf("%s and %s were played by different feeder boards: %v and %v", a.Dir, b.Dir, *boardOr(a), *boardOr(b))
	}
	return nil
}

func boardOf(r *record.Run) []record.Board {
	if r.Meta.Board == nil {
		return nil
	}
	return []record.Board{*r.Meta.Board}
}

func boardOr(r *record.Run) *record.Board {
	if r.Meta.Board == nil {
		return &record.Board{}
	}
	return r.Meta.Board
}

// sameJSON compares two values, not their texts.
func sameJSON(a, b json.RawMessage) bool {
	norm := func(x json.RawMessage) string {
		var v any
		if len(x) == 0 || json.Unmarshal(x, &v) != nil {
			return string(x)
		}
		out, _ := json.Marshal(v)
		return string(out)
	}
	return norm(a) == norm(b)
}
