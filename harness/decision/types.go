package decision

import (
	"encoding/json"
	"fmt"

	"latchproof/harness/clock"
	"latchproof/harness/judge"
	"latchproof/harness/record"
	"latchproof/specs/console"
)

// Format is the version of decision.json.
const Format = 1

// Policy is what the house asks for.
type Policy struct {
	House    string `json:"house"`
	Repeats  int    `json:"repeats"`  // on each bench, at least 1
	Lockstep int    `json:"lockstep"` // of them, 1..Repeats
	Benches  int    `json:"benches"`  // at least 1
	Ties     string `json:"ties"`     // "earlier"
}

// Claim is what is claimed, and what its spec asks for.
type Claim struct {
	Claim    string `json:"claim"` // in the submitter's words
	By       string `json:"by"`
	Category string `json:"category"`
	Own      bool   `json:"own"`     // by a spec of the submitter's own
	Frames   int64  `json:"frames"`  // the claimed time
	Program  string `json:"program"` // hash of the expanded button stream
	// Checkpoints are the names of those of the spec, in its order.
	Checkpoints []string `json:"checkpoints"`
	Rate        Rate     `json:"rate"` // of the console, frames a second
}

// Rate is a fraction, hertz.
type Rate struct {
	Num int64 `json:"num"`
	Den int64 `json:"den"`
}

// RateOf is that of a console.
func RateOf(r console.Rate) Rate { return Rate{r.Num, r.Den} }

// RunFacts are what a run came to.
type RunFacts struct {
	Name  string `json:"name"`  // as in the comparison: its folder in the bundle
	Bench string `json:"bench"` // name of its bench
	// Equipment names console, feeder board and card by model, revision and serial
	// number, with what the board says of itself.
	Equipment string       `json:"equipment"`
	State     record.State `json:"state"`
	// Damage are sentences about evidence that is missing or damaged.
	Damage []string `json:"damage"`
	// Underruns is how many latch pulses the board had no program data for.
	Underruns   int         `json:"underruns"`
	Program     string      `json:"program"` // hash of the expanded button stream
	Clock       clock.State `json:"clock"`
	Pictures    int         `json:"pictures"`
	Checkpoints []Checked   `json:"checkpoints"`
	Timing      *Time       `json:"timing"` // null: nothing was measured
	// why says what decided a checkpoint or the timing (Key "timing"), in words;
	// not in the JSON.
	why map[string]string
}

// Checked is one checkpoint in one run.
type Checked struct {
	Name    string        `json:"name"`
	Verdict judge.Verdict `json:"verdict"`
}

// Time is the timing of one run.
type Time struct {
	Verdict judge.Verdict `json:"verdict"`
	Frames  int64         `json:"frames"`
	Low     int64         `json:"low"`
	High    int64         `json:"high"`
	From    int64         `json:"from"` // frames of the events; -1: not found
	To      int64         `json:"to"`
}

// Facts gathers those of a run. name is that in the comparison, m its record, and
// v what was judged, by whomever.
func Facts(name, bench string, m record.Meta, v judge.RunVerdict) RunFacts {
	f := RunFacts{
		Name: name, Bench: bench, Equipment: equipment(m), State: m.State, Damage: append([]string{}, m.Damage...), Underruns: len(m.Underruns), Program: m.Program.Hash,
		Clock: v.Clock.State, Pictures: v.Captured.Pictures, Checkpoints: []Checked{}, why: map[string]string{},
	}
	if m.Stopped != nil {
		f.Damage = append(f.Damage, "it stopped "+m.Stopped.Where+": "+m.Stopped.Why)
	}
	for _, c := range v.Checkpoints {
		f.Checkpoints = append(f.Checkpoints, Checked{c.Name, c.Verdict})
		f.why[c.Name] = c.Why
	}
	if t := v.Timing; t != nil {
		f.Timing = &Time{Verdict: t.Verdict, Frames: t.Frames, Low: t.Low, High: t.High, From: -1, To: -1}
		if t.From != nil {
			f.Timing.From = int64(t.From.Frame)
		}
		if t.To != nil {
			f.Timing.To = int64(t.To.Frame)
		}
		f.why[timing] = t.Why
	}
	f.why[frameClock] = v.Clock.Why
	return f
}

// equipment names what a run was played on. What cannot be read is left out: the run
// then differs from others.
func equipment(m record.Meta) string {
	type part struct{ Model, Revision, Serial string }
	var info struct{ Console, Feeder, Card part }
	_ = json.Unmarshal(m.Bench, &info)
	var board record.Board
	if m.Board != nil {
		board = *m.Board
	}
	return fmt.Sprintf("console %q, feeder %q, card %q, board %q", info.Console, info.Feeder, info.Card,
		part{board.Board, board.Firmware, board.Serial})
}

// Keys of RunFacts.why that are no names of checkpoints: those are one line.
const timing, frameClock = "\ntiming", "\nclock"

// Outcome is what was decided.
type Outcome string

// The outcomes.
const (
	Certified Outcome = "certified"
	Refused   Outcome = "refused"
)

// Reason is why a claim is refused.
type Reason struct {
	Certain bool   `json:"certain"` // it surely does not hold; else it cannot be told
	Run     string `json:"run"`     // empty: all of them
	Why     string `json:"why"`
}

// Measured is the time that all runs in lockstep leave.
type Measured struct {
	Frames  int64   `json:"frames"` // Low when it is High, else -1
	Low     int64   `json:"low"`
	High    int64   `json:"high"`
	Seconds float64 `json:"seconds"` // of Frames; 0 when it is -1
	From    int64   `json:"from"`    // frames of the events in the first run
	To      int64   `json:"to"`
}

// Bench is one bench and its runs.
type Bench struct {
	Name     string   `json:"name"`
	Runs     []string `json:"runs"`
	Lockstep int      `json:"lockstep"` // in lockstep with the first run of all, itself counted
}

// Lockstep is what comparing came to.
type Lockstep struct {
	Frames     int64      `json:"frames"`     // that the longest run covers
	Compared   int64      `json:"compared"`   // frames, summed over the runs but the first
	Unseen     int64      `json:"unseen"`     // of them, without a picture on one side
	Divergence *int64     `json:"divergence"` // frame of the earliest; null: none
	Families   [][]string `json:"families"`   // runs in lockstep with one another
}

// Decision is what was decided, and from what.
type Decision struct {
	Format   int        `json:"format"`
	Outcome  Outcome    `json:"outcome"`
	Code     int        `json:"code"` // 0, 1 or 3
	Policy   Policy     `json:"policy"`
	Claim    Claim      `json:"claim"`
	Measured *Measured  `json:"measured"`
	Lockstep Lockstep   `json:"lockstep"`
	Benches  []Bench    `json:"benches"`
	Runs     []RunFacts `json:"runs"`
	Reasons  []Reason   `json:"reasons"`
	Notes    []string   `json:"notes"`
}

// JSON is decision.json.
func (d Decision) JSON() ([]byte, error) {
	src, err := json.MarshalIndent(d, "", "  ")
	return append(src, '\n'), err
}

// Before is the best of a category in a record book before.
type Before struct {
	Index  int64
	Frames int64
	By     string
	Leaf   string // RFC 6962 leaf hash, lower-case hex
}

// Standing is how a time compares with the best before.
type Standing string

// The standings.
const (
	First  Standing = "first"
	Record Standing = "record"
	Tie    Standing = "tie"
	Slower Standing = "slower"
)

// Stand compares a certified time with the best before; nil: there is none.
func Stand(frames int64, before *Before) Standing {
	switch {
	case before == nil:
		return First
	case frames < before.Frames:
		return Record
	case frames == before.Frames:
		return Tie
	}
	return Slower
}
