package calibrate

import (
	"fmt"
	"slices"

	"latchproof/harness"
)

// Verdict is what a finding means to the maker.
type Verdict string

// The verdicts.
const (
	OK     Verdict = "ok"
	Look   Verdict = "look at this"
	Cannot Verdict = "cannot be used"
	// Untold: it could not be measured here; Measured says why.
	Untold Verdict = "not measured"
)

// Finding is one thing that was tried.
type Finding struct {
	// ID is the same for the same thing always, such as "card.drops".
	ID string `json:"id"`
	// Measured says what was found, with units.
	Measured string  `json:"measured"`
	Verdict  Verdict `json:"verdict"`
	// Advice is what to do about it; empty when it is ok.
	Advice string `json:"advice,omitempty"`
}

// Report is what a check found.
type Report struct {
	Bench    harness.BenchInfo `json:"bench"`
	Runs     int               `json:"runs"`
	Findings []Finding         `json:"findings"`
	// Calibration is what can be written into the bench file; nil when nothing
	// could be measured.
	Calibration *harness.Calibration `json:"-"`
}

// The exit codes of a check.
const (
	codeFine, codeMend, codeFailed = 0, 1, 3
)

// Code is 0 when all is fine, 1 when there is something to look at, 3 when
// something cannot be used.
func (r *Report) Code() int {
	switch {
	case r.has(Cannot):
		return codeFailed
	case r.has(Look):
		return codeMend
	}
	return codeFine
}

func (r *Report) has(v Verdict) bool {
	return slices.ContainsFunc(r.Findings, func(f Finding) bool { return f.Verdict == v })
}

// Find is the finding of that ID.
func (r *Report) Find(id string) (Finding, bool) {
	i := slices.IndexFunc(r.Findings, func(f Finding) bool { return f.ID == id })
	if i < 0 {
		return Finding{}, false
	}
	return r.Findings[i], true
}

// Sentence sums the report up.
func (r *Report) Sentence() string {
	n := map[Verdict]int{}
	for _, f := range r.Findings {
		n[f.Verdict]++
	}
	s := fmt.Sprintf("%d tried on %d runs", len(r.Findings), r.Runs)
	if n[Untold] > 0 {
		s += fmt.Sprintf(", %d not measured", n[Untold])
	}
	switch {
	case n[Cannot] > 0:
		return s + fmt.Sprintf(": the bench cannot be used as it is (%d such, %d more to look at).", n[Cannot], n[Look])
	case n[Look] > 0:
		return s + fmt.Sprintf(": the bench works, with %d to look at.", n[Look])
	}
	return s + ": the bench is fine."
}

// add adds a finding. The advice is left out of one that is ok.
func (r *Report) add(id string, v Verdict, advice, format string, a ...any) {
	if v == OK || v == Untold {
		advice = ""
	}
	r.Findings = append(r.Findings, Finding{ID: id, Measured: fmt.Sprintf(format, a...), Verdict: v, Advice: advice})
}

// lookIf is Look when something is amiss.
func lookIf(amiss bool) Verdict {
	if amiss {
		return Look
	}
	return OK
}
