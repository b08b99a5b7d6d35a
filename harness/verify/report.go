package verify

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
)

// State is what became of a finding.
type State string

// The states.
const (
	Holds   State = "holds"
	Broken  State = "broken"
	Cannot  State = "cannot tell"
	Skipped State = "not looked at"
)

// Finding is one thing that was looked at.
type Finding struct {
	What  string `json:"what"`          // as in the package's text
	Run   string `json:"run,omitempty"` // folder of the run in the bundle
	State State  `json:"state"`
	Why   string `json:"why,omitempty"` // what broke, or what was found, in words
}

// The signers.
const (
	SignerGiven   = "given"   // the key that was asked for
	SignerUnknown = "unknown" // nobody said whose key it is
)

// Report is what was found.
type Report struct {
	Bundle string `json:"bundle"`
	Holds  bool   `json:"holds"`
	Code   int    `json:"code"`
	Signer string `json:"signer"`
	KeyID  string `json:"key_id,omitempty"`
	// What the certificate says; empty when its signature does not hold.
	Claim     string  `json:"claim,omitempty"`
	By        string  `json:"by,omitempty"`
	House     string  `json:"house,omitempty"`
	Category  string  `json:"category,omitempty"`
	Frames    int64   `json:"frames,omitempty"`
	Seconds   float64 `json:"seconds,omitempty"`
	Certified string  `json:"certified,omitempty"`

	Findings []Finding `json:"findings"`
	// RestsOnVideo are the things that only videos that are not there could tell,
	// and Notes what else a reader should know.
	RestsOnVideo []Resting `json:"rests_on_video"`
	Notes        []string  `json:"notes"`

	temp string // where runs are unpacked
}

// inside is an error in words, with the names of files as they are in the bundle.
func (r *Report) inside(err error) string {
	if r.temp == "" {
		return err.Error()
	}
	return strings.ReplaceAll(err.Error(), r.temp+string(filepath.Separator), "")
}

// Resting is something of a run that only its video could tell.
type Resting struct {
	Run  string `json:"run"`
	What string `json:"what"` // name of a checkpoint, or "timing"
	Why  string `json:"why"`
}

// Broken are the findings that are.
func (r *Report) Broken() (out []Finding) {
	for _, f := range r.Findings {
		if f.State == Broken {
			out = append(out, f)
		}
	}
	return out
}

func (r *Report) add(what, run string, s State, why string) {
	r.Findings = append(r.Findings, Finding{what, run, s, why})
}

// check adds a finding that holds when err is nil, and says whether it does.
// An error that says nothing of the bundle makes it one that cannot be told.
func (r *Report) check(what, run string, err error, found string) bool {
	switch {
	case err == nil:
		r.add(what, run, Holds, found)
	case isOutside(err):
		r.add(what, run, Cannot, r.inside(err))
	default:
		r.add(what, run, Broken, r.inside(err))
	}
	return err == nil
}

func (r *Report) note(format string, a ...any) {
	if s := fmt.Sprintf(format, a...); !slices.Contains(r.Notes, s) {
		r.Notes = append(r.Notes, s)
	}
}

// settle sets the code.
func (r *Report) settle() {
	r.Code = 0
	for _, f := range r.Findings {
		switch {
		case f.State == Broken:
			r.Code = 1
		case f.State != Holds && r.Code == 0:
			r.Code = 3
		}
	}
	r.Holds = r.Code == 0
}
