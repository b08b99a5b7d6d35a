package harness

import (
	"encoding/json"
	"fmt"
	"image"
	"strings"
	"time"

	"latchproof/harness/baseline"
	"latchproof/harness/record"
)

// BaselineResult is what a check against a baseline came to; it is also the
// form of `baseline check --json`.
type BaselineResult struct {
	Baseline string           `json:"baseline"` // its folder
	Verdict  baseline.Verdict `json:"verdict"`
	Sentence string           `json:"sentence"`
	Need     baseline.Need    `json:"needed"`
	Alpha    float64          `json:"alpha"`
	Margin   float64          `json:"margin"`
	Tests    int              `json:"tests"`
	Differs  []string         `json:"differs"` // in what the two benches differ
	Specs    []CheckedSpec    `json:"specs"`

	bench BenchInfo // the candidate's
}

// CheckedSpec is what was found of one spec.
type CheckedSpec struct {
	Name     string           `json:"name"`
	Verdict  baseline.Verdict `json:"verdict"`
	Sentence string           `json:"sentence"`
	Need     baseline.Need    `json:"needed"`
	Frames   int64            `json:"frames"` // of the reference
	// Parts is where the first run of the candidate parts from the reference; nil:
	// none does.
	Parts    *CheckedParting `json:"parts"`
	Rows     []baseline.Row  `json:"rows"`
	Notes    []string        `json:"notes,omitempty"`
	Left     []string        `json:"left,omitempty"` // runs of which nothing can be told, and why
	Warnings []string        `json:"warnings,omitempty"`

	evidence baseline.Evidence
}

// CheckedParting is a parting from the reference.
type CheckedParting struct {
	Run    string `json:"run"`
	Frame  int64  `json:"frame"`
	Since  int64  `json:"since"`
	Read   int64  `json:"read"`
	Kind   string `json:"kind"`
	Part   string `json:"part"`
	Line   int    `json:"program_line"`
	Region [4]int `json:"region"` // x, y, width, height
	Why    string `json:"why"`
}

func rectangle(r image.Rectangle) [4]int { return [4]int{r.Min.X, r.Min.Y, r.Dx(), r.Dy()} }

// take puts the verdicts in.
func (r *BaselineResult) take(v baseline.Verdicts) {
	r.Verdict, r.Need, r.Alpha, r.Margin, r.Tests = v.Verdict, v.Need, v.Alpha, v.Margin, v.Tests
	n := map[baseline.Verdict]int{}
	for i, sv := range v.Specs {
		s := &r.Specs[i]
		s.Verdict, s.Need, s.Rows, s.Notes = sv.Verdict, sv.Need, sv.Rows, sv.Notes
		s.Sentence = s.sentence()
		n[s.Verdict]++
	}
	of := fmt.Sprintf("%d specs", len(r.Specs))
	if len(r.Specs) == 1 {
		of = "1 spec"
	}
	switch r.Verdict {
	case baseline.Worse:
		r.Sentence = fmt.Sprintf("Worse: the candidate does worse than the baseline in %d of %s. If nothing had changed, the chance of finding that would be %s at most.", n[baseline.Worse], of, Percent(r.Alpha))
	case baseline.NoWorse:
		r.Sentence = fmt.Sprintf("No worse: in %s nothing is worse, and rates of trouble are less than %s above the baseline's, at a confidence of %s each.", of, Percent(r.Margin), Percent(1-r.Alpha))
	default:
		r.Sentence = fmt.Sprintf("Cannot tell: %s. Nothing is shown to be worse, and that it is no worse is not shown either.", needWords(r.Need))
	}
}

// needWords is such as "20 more repeats needed".
func needWords(n baseline.Need) string {
	switch {
	case n.Beyond:
		return "more than 10,000 more repeats needed"
	case n.Baseline > 0:
		return fmt.Sprintf("%d more repeats needed, and %d more runs of the baseline", n.Candidate, n.Baseline)
	}
	return fmt.Sprintf("%d more repeats needed", n.Candidate)
}

// sentence says of a spec what came out.
func (s *CheckedSpec) sentence() string {
	var out string
	switch {
	case s.Parts == nil:
		out = fmt.Sprintf("The candidate shows the same pictures as the reference of the baseline, over %d frames", s.Frames)
	default:
		d := s.Parts
		out = fmt.Sprintf("The candidate parts from the reference of the baseline, first in %s at frame %d, read %d (%s, points to: %s): %s", strings.TrimPrefix(d.Run, "candidate "), d.Frame, d.Read, d.Kind, d.Part, d.Why)
		if d.Line > 0 {
			out += fmt.Sprintf(" (program line %d)", d.Line)
		}
	}
	for _, r := range s.Rows {
		if r.Verdict == baseline.Worse {
			out += fmt.Sprintf("; worse in %s: %s, the baseline has %s (p %s)", r.What, r.Candidate, r.Baseline, chance(r.Adjusted))
		}
	}
	if s.Verdict == baseline.CannotTell {
		out += "; " + needWords(s.Need)
	}
	return out + "."
}

// chance is a p value in words.
func chance(p float64) string {
	if p < 0.0001 {
		return "below 0.0001"
	}
	return fmt.Sprintf("%.2g", p)
}

// Row is what a row of a spec came to; nil when it was not asked.
func (s *CheckedSpec) Row(what string) *baseline.Row {
	for i := range s.Rows {
		if s.Rows[i].What == what {
			return &s.Rows[i]
		}
	}
	return nil
}

// benchesDiffer says in what a bench differs from the baseline's.
func benchesDiffer(m baseline.Meta, is BenchInfo, board *record.Board) ([]string, error) {
	var was BenchInfo
	if len(m.Bench) > 0 {
		if err := json.Unmarshal(m.Bench, &was); err != nil {
			return nil, fmt.Errorf("%s: bench: %w", baseline.FileName, err)
		}
	}
	out := []string{}
	add := func(what string, a, b any) {
		x, y := fmt.Sprint(a), fmt.Sprint(b)
		if x == "" {
			x = "not given"
		}
		if y == "" {
			y = "not given"
		}
		if x != y {
			out = append(out, fmt.Sprintf("%s: %s in the baseline, %s now", what, x, y))
		}
	}
	add("bench", was.Name, is.Name)
	for _, p := range []struct {
		name string
		a, b Part
	}{{"console", was.Console, is.Console}, {"feeder", was.Feeder, is.Feeder}, {"card", was.Card, is.Card}} {
		add(p.name+" model", p.a.Model, p.b.Model)
		add(p.name+" serial number", p.a.Serial, p.b.Serial)
		add(p.name+" revision", p.a.Revision, p.b.Revision)
		add(p.name+" firmware", p.a.Firmware, p.b.Firmware)
	}
	var a, b record.Board
	if m.Board != nil {
		a = *m.Board
	}
	if board != nil {
		b = *board
	}
	add("board serial number, as it says", a.Serial, b.Serial)
	add("board revision, as it says", a.Board, b.Board)
	add("board firmware, as it says", a.Firmware, b.Firmware)
	add("board protocol", a.Protocol, b.Protocol)
	add("board capacity", a.Capacity, b.Capacity)
	add("board ports", a.Ports, b.Ports)
	latency := func(i BenchInfo) string {
		return fmt.Sprintf("%v ± %v", i.Latency.Round(time.Microsecond), i.LatencyHalf.Round(time.Microsecond))
	}
	add("card latency", latency(was), latency(is))
	add("card rate", fmt.Sprintf("%.4f Hz", was.CaptureRate), fmt.Sprintf("%.4f Hz", is.CaptureRate))
	add("active picture", was.Active, is.Active)
	add("fields", was.Fields, is.Fields)
	return out, nil
}
