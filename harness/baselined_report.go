package harness

import (
	"fmt"
	"time"

	"latchproof/harness/baseline"
	"latchproof/harness/stats"
	"latchproof/reports"
)

// Report gathers a check for a report.
func (r *BaselineResult) Report(title, version string) (reports.Session, error) {
	s := reports.Session{Title: title, Made: time.Now().UTC().Truncate(time.Second), Version: version, Bench: reportBench(r.bench)}
	s.Baseline = &reports.Baseline{Sentence: r.Sentence, Verdict: reportVerdict(r.Verdict, r.Need), Differs: r.Differs}
	for _, c := range r.Specs {
		out := reports.BaselineSpec{Name: c.Name, Verdict: reportVerdict(c.Verdict, c.Need), Sentence: c.Sentence}
		if c.Parts != nil {
			out.PartsAt = &c.Parts.Frame
		}
		for _, row := range c.Rows {
			p := "-"
			if row.Tested {
				p = chance(row.Adjusted)
			}
			out.Rows = append(out.Rows, reports.BaselineRow{
				What: row.What, Baseline: row.Baseline, Candidate: row.Candidate, P: p, Verdict: reportVerdict(row.Verdict, row.Need),
			})
		}
		for i, side := range []struct {
			name string
			baseline.Side
		}{{"Baseline", c.evidence.Baseline}, {"Candidate", c.evidence.Candidate}} {
			var err error
			if out.Survival[i], err = survivalOf(side.name, side.Lives, c.Frames); err != nil {
				return s, fmt.Errorf("%s: %w", c.Name, err)
			}
		}
		s.Baseline.Specs = append(s.Baseline.Specs, out)
	}
	return s, nil
}

func reportVerdict(v baseline.Verdict, n baseline.Need) string {
	if v == baseline.CannotTell && n != (baseline.Need{}) {
		return string(v) + ": " + needWords(n)
	}
	return string(v)
}

// survivalOf is the curve of one side; nil when it has no lifetime.
func survivalOf(name string, lives []baseline.Life, frames int64) (*reports.Survival, error) {
	var all []stats.Lifetime
	for _, l := range lives {
		all = append(all, stats.Lifetime{Time: l.Frame, Event: l.Parted})
	}
	out, err := Survival(all, frames)
	if out != nil {
		out.Sentence = name + ": " + out.Sentence
	}
	return out, err
}
