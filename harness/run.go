package harness

import (
	"errors"
	"fmt"
	"strings"

	"latchproof/harness/checks"
	"latchproof/harness/clock"
	"latchproof/harness/judge"
	"latchproof/harness/live"
	"latchproof/harness/lockstep"
	"latchproof/harness/record"
	"latchproof/specs"
	"latchproof/specs/console"
)

// ErrDamaged says that a run's evidence is not whole.
var ErrDamaged = errors.New("the evidence is damaged")

// Run is one run, played or read from its folder, and judged.
type Run struct {
	Name     string // "repeat 3", or the folder's name
	Dir      string
	Spec     *specs.Spec // nil when it was judged against none
	State    record.State
	Results  []judge.Result
	Timing   *judge.Timing // nil: its spec asks for none
	Clock    clock.Summary
	Counts   judge.Counts
	Problems []string

	Reads    []lockstep.ReadInfo
	Last     console.Frame
	Unseen   []int64
	Lag      []int64
	Trace    lockstep.Trace // nil when nothing was seen
	Store    *judge.Store   // nil unless screens are kept
	Pictures int
	// Early are the findings while the run went on, in the order in which they
	// fell, and EarlyWhy why there are not more; see Player.Live.
	Early    []live.Finding
	EarlyWhy string
	// Account is what the capture says of itself; zero when it says nothing.
	Account live.Account

	done    func() error // removes a trace that was rebuilt; nil: nothing to do
	stopped string       // why the run ended early, when it did
}

// Take sets what was found by watching the capture.
func (r *Run) Take(w *judge.Watched) {
	r.Results, r.Timing, r.Clock, r.Counts = w.Results, w.Timing, w.Clock.Summary(), w.Counts
	r.Problems = append(r.Problems, w.Problems...)
	r.Reads, r.Last, r.Unseen, r.Lag = w.Reads, w.Last, w.Unseen, w.Lag
	r.Pictures = w.Counts.Pictures
}

// unseenAll says of every checkpoint that nothing was seen.
func (r *Run) unseenAll(s *specs.Spec) {
	r.Results, r.Timing = nil, nil
	if s == nil {
		return
	}
	why := "the run was not played to its end"
	if r.State != record.Partial {
		why = "nothing was captured"
	}
	if s.Timing != nil {
		r.Timing = &judge.Timing{Verdict: judge.Unseen, Why: why}
	}
	for _, cp := range s.Checkpoints {
		res := judge.Result{Name: cp.Name, Kind: cp.Kind, Verdict: judge.Unseen, Why: why}
		if c, ok := cp.Check.(checks.Check); ok {
			res.Describe, res.Templates = c.Describe(), c.Templates()
		}
		r.Results = append(r.Results, res)
	}
}

// Took is what the spec's timing came to; nil when it asks for none.
func (r *Run) Took() *judge.Timing { return r.Timing }

// Result is the judgement of the checkpoint of that name.
func (r *Run) Result(name string) (judge.Result, bool) {
	for _, c := range r.Results {
		if c.Name == name {
			return c, true
		}
	}
	return judge.Result{}, false
}

// Damage says what makes the record incomplete; nil when it is whole.
func (r *Run) Damage() error {
	switch {
	case r.State == record.Partial:
		return fmt.Errorf("%w: the run is partial: %s", ErrDamaged, strings.Join(r.Problems, "; "))
	case r.Pictures == 0:
		return fmt.Errorf("%w: nothing was captured", ErrDamaged)
	}
	return nil
}

// Comparable says why the run cannot be compared with others; nil when it can.
func (r *Run) Comparable() error {
	if err := r.Damage(); err != nil {
		return err
	}
	if r.Clock.State == clock.Untrusted {
		return fmt.Errorf("its frame clock is not trusted: %s", r.Clock.Why)
	}
	if r.Trace == nil {
		return errors.New("it has no trace")
	}
	return nil
}

// Steps is what is compared of the run.
func (r *Run) Steps() lockstep.Run {
	out := lockstep.Run{
		Name: r.Name, Trace: r.Trace, Reads: r.Reads, LastFrame: r.Last,
		EndedEarly: r.stopped != "", EndWhy: r.stopped,
	}
	if r.stopped != "" {
		out.EndPart = lockstep.PartConsole // it stopped reading
	}
	if r.Spec != nil && r.Spec.Program != nil {
		out.Program = r.Spec.Program.Hash()
	}
	return out
}

// Verdict is what `judge --json` prints.
func (r *Run) Verdict() judge.RunVerdict {
	return judge.NewRunVerdict(r.Dir, r.Results, r.Timing, r.Clock, r.Counts, r.Problems)
}

// Line is the run in one line of text.
func (r *Run) Line() string {
	n := map[judge.Verdict]int{}
	for _, c := range r.Results {
		n[c.Verdict]++
	}
	parts := []string{fmt.Sprintf("%d frames", r.Counts.Frames)}
	if r.Counts.Unseen > 0 {
		parts = append(parts, fmt.Sprintf("%d unseen", r.Counts.Unseen))
	}
	if len(r.Results) > 0 {
		parts = append(parts, fmt.Sprintf("%d of %d checkpoints passed", n[judge.Pass], len(r.Results)))
	}
	if n[judge.Fail] > 0 {
		parts = append(parts, fmt.Sprintf("%d failed", n[judge.Fail]))
	}
	if n[judge.Unseen] > 0 {
		parts = append(parts, fmt.Sprintf("%d unseen", n[judge.Unseen]))
	}
	if r.Clock.State != clock.Measured {
		parts = append(parts, "clock "+string(r.Clock.State))
	}
	return strings.Join(parts, ", ")
}

// Release frees what the run holds for the report.
func (r *Run) Release() error {
	var err error
	if r.Store != nil {
		err = r.Store.Close()
		r.Store = nil
	}
	return err
}

// Close releases the run and removes a trace that was rebuilt: the run can no
// longer be compared.
func (r *Run) Close() error {
	err := r.Release()
	if r.done != nil {
		err = errors.Join(err, r.done())
		r.done, r.Trace = nil, nil
	}
	return err
}
