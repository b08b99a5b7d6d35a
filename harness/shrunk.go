package harness

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"latchproof/harness/lockstep"
	"latchproof/harness/shrink"
	"latchproof/harness/stats"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/specs/program"
)

// Shrinker makes the program of a spec whose repeats part short while they go on
// to part. The search is that of package shrink.
//
// Everything is played without checkpoints and without the anchor, so the bench
// must be calibrated: a repeat whose frame clock is not measured, that cannot be
// compared, or that parts for a doubtful reason only (Doubtful) counts neither
// way. No repeat number is used twice in a search, so that on a simulated bench,
// too, every repeat is a new draw.
type Shrinker struct {
	Bench   Bench
	Out     string // folder for the results; it exists
	Version string // of this program
	// Confidence with which a candidate is turned down; 0 means 95 %.
	Confidence float64
	// Rate is the share of runs outside the largest group of like runs that
	// candidates are tested for; 0 means the lower limit of what the original
	// shows, and for the original DefaultShrinkRate.
	Rate float64
	// PerStep is how many repeats a candidate is played against its reference at
	// the most; 0 means as many as Confidence and Rate ask for.
	PerStep int64
	Budget  time.Duration // of playing and searching together; 0: none
	AnyKind bool          // take a parting of any kind, not only of the original's
	Log     func(string)  // is told of each step in a line; may be nil

	spec    *specs.Spec
	tail    int // of candidates
	kind    lockstep.Kind
	numbers int // repeats played so far
	failed  int // in a row
	begun   time.Time
	work    string
}

// DefaultShrinkRate is the rate that the original is played for when none is
// given.
const DefaultShrinkRate = 0.20

// fewReads is how many reads after that of the first divergence stay when a
// program is cut: as many frames as a comparison confirms a difference by.
const fewReads = 8

// shortTail is the tail of candidates, reads, unless the original parts after its
// program's end. A frame clock needs 30 reads, and a candidate may have one.
const shortTail = 40

// originals is how many times as many repeats the original is played as would
// show it part, at the most, to estimate a low rate.
const originals = 4

// The verdicts of a search.
const (
	Shrunken = "reduced"  // or as short as it can be already; it parts
	NotTold  = "not told" // it was not seen to part, or the bench failed
)

// Shrunk is what a search came to, as `shrink --json` prints it and shrink.json
// keeps it. Reads, lines and repeats count as everywhere: lines from 1, the
// reference is none of the repeats.
type Shrunk struct {
	Version     string  `json:"latchproof"`
	Spec        string  `json:"spec"`
	SpecFile    string  `json:"spec_file"`
	ProgramFile string  `json:"program_file"`
	Bench       string  `json:"bench"`
	Confidence  float64 `json:"confidence"`
	AnyKind     bool    `json:"any_kind"`
	Verdict     string  `json:"verdict"`

	Original ShrunkProgram `json:"original"`
	// Rate is what candidates were tested for, PerStep by how many repeats, and
	// WrongAtMost the chance that one that parts at that rate was turned down.
	Rate        float64 `json:"rate"`
	PerStep     int64   `json:"repeats_per_step"`
	WrongAtMost float64 `json:"wrong_at_most"`

	Steps   []shrink.Step `json:"steps"`
	Refused int           `json:"turned_down"`
	Untold  int           `json:"not_told"`
	Minimal bool          `json:"minimal"`
	Ended   string        `json:"ended,omitempty"` // why before it was minimal
	// Result is nil when the original was not seen to part.
	Result *ShrunkProgram `json:"result"`
	// Sentences say what was found.
	Sentences []string `json:"sentences"`

	program *program.Program
}

// ShrunkProgram is a program and how its repeats part.
type ShrunkProgram struct {
	Program    string `json:"program"` // file
	Spec       string `json:"spec"`
	Hash       string `json:"program_hash"`
	Reads      int64  `json:"reads"`
	Statements int    `json:"statements"`
	// Repeats that counted, of which Parted surely parted from the first run;
	// Low and High are the limits of Clopper and Pearson at 95 %.
	Repeats int64   `json:"repeats"`
	Parted  int64   `json:"parted"`
	Low     float64 `json:"low"`
	High    float64 `json:"high"`
	LeftOut int64   `json:"left_out"`
	// Groups is how the runs fall apart.
	Groups shrink.Rate `json:"groups"`
	// Where the first of them in time parts.
	Frame console.Frame `json:"frame"`
	Read  program.Read  `json:"read"`
	Line  int           `json:"program_line"`
	Kind  lockstep.Kind `json:"kind"`
	Part  lockstep.Part `json:"part"`
	Why   string        `json:"why"`
}

func (s *Shrinker) say(format string, args ...any) {
	if s.Log != nil {
		s.Log(fmt.Sprintf(format, args...))
	}
}

func (s *Shrinker) spent() bool { return s.Budget > 0 && time.Since(s.begun) > s.Budget }

// Shrink searches, and writes the shortest program found, a spec for it and
// shrink.json into Out. It is no error when the original is not seen to part
// (Verdict NotTold, no Result), or when the budget ends the search. The error of
// a bench that failed, or the context's, comes with what was found until then,
// which is written but not confirmed.
func (s *Shrinker) Shrink(ctx context.Context, sp *specs.Spec) (*Shrunk, error) {
	s.begun = time.Now()
	if s.Confidence == 0 {
		s.Confidence = 0.95
	}
	res := &Shrunk{
		Version: s.Version, Spec: sp.Name, SpecFile: sp.File, ProgramFile: sp.ProgramFile, Bench: s.Bench.Describe().Name,
		Confidence: s.Confidence, AnyKind: s.AnyKind, Verdict: NotTold, Steps: []shrink.Step{},
	}
	rate := s.Rate
	if rate == 0 {
		rate = DefaultShrinkRate
	}
	base, err := stats.RepeatsNeeded(rate, s.Confidence)
	if err != nil {
		return nil, err
	}
	var work error
	if s.work, work = os.MkdirTemp(s.Out, ".shrink-*"); work != nil {
		return nil, work
	}
	defer os.RemoveAll(s.work)
	s.spec, s.tail = stripped(sp), shortTail

	first, err := s.series(ctx, sp.Program, sp.Tail, base, s.Rate == 0)
	if err != nil {
		return res, err
	}
	res.Original = first.told
	res.Original.Program, res.Original.Spec = sp.ProgramFile, sp.File
	if first.told.Parted == 0 {
		res.Sentences = []string{fmt.Sprintf("It was not seen to part: %s. A program of which %s of the runs are unlike the others would have parted with a chance of %s, so there is nothing to shrink; what parts more rarely needs a lower --rate.",
			first.told.count(), Percent(rate), Percent(1-shrink.Missed(rate, first.told.Repeats)))}
		if first.told.Repeats < base {
			res.Sentences = []string{fmt.Sprintf("It cannot be told whether it parts: %s, and %d are needed. The first that was left out: %s.", first.told.count(), base, first.why)}
		}
		return res, nil
	}
	s.kind = first.told.Kind
	if err := s.bars(res, first); err != nil {
		return res, err
	}
	s.say("the original: %s; %s", first.told.where(), oneOf(res))

	found, err := shrink.Reduce(ctx, sp.Program, s.oracle(res.PerStep), shrink.Options{
		Limits: program.Limits{Reads: max(sp.MaxReads, sp.Program.Reads())}, Cuts: first.cuts(), Spent: s.spent,
		Step: func(st shrink.Step) {
			res.Steps = append(res.Steps, st)
			s.say("step %d: %s left of %d; trying %s: %s (%d of %d)", st.Number, several(st.Left, "read"), sp.Program.Reads(), st.Trying, st.Outcome, st.Parted, st.Repeats)
		},
	})
	res.Refused, res.Untold, res.Minimal = found.Refused, found.Untold, found.Minimal
	if errors.Is(err, shrink.ErrSpent) {
		res.Ended, err = fmt.Sprintf("the budget of %s was used up", s.Budget), nil
	} else if err != nil {
		if ctx.Err() != nil && !errors.Is(err, ErrStopped) {
			err = fmt.Errorf("%w: %w", ErrStopped, context.Cause(ctx))
		}
		res.Ended = oneLine(err)
	}
	return res, s.finish(ctx, sp, res, found.Program, base, err)
}

// stripped is the spec with nothing to judge but lockstep.
func stripped(sp *specs.Spec) *specs.Spec {
	c := *sp
	c.Checkpoints, c.Points, c.Timing, c.Anchor = nil, nil, nil, nil
	return &c
}

// bars sets what candidates are tested by, and the tail that they need.
func (s *Shrinker) bars(res *Shrunk, first *series) error {
	if res.Rate = s.Rate; res.Rate == 0 {
		res.Rate = first.told.Groups.Low
	}
	if res.PerStep = s.PerStep; res.PerStep == 0 {
		n, err := stats.RepeatsNeeded(res.Rate, s.Confidence)
		if err != nil {
			return err
		}
		res.PerStep = n
	}
	res.WrongAtMost = shrink.Missed(res.Rate, res.PerStep)
	for _, r := range first.reads {
		if past := int64(r) - s.spec.Program.Reads() + 1; past > 0 {
			s.tail = max(s.tail, min(int(past)+specs.Margin, s.spec.Tail))
		}
	}
	return nil
}

func oneOf(res *Shrunk) string {
	return fmt.Sprintf("each candidate is played until a repeat parts, at most %d times: one of which %s of the runs are unlike the others is turned down with a chance of %s at most",
		res.PerStep, Percent(res.Rate), Percent(res.WrongAtMost))
}

// oracle tests a candidate against a reference of its own.
func (s *Shrinker) oracle(most int64) shrink.Oracle {
	return func(ctx context.Context, p *program.Program) (o shrink.Outcome, err error) {
		dir, err := os.MkdirTemp(s.work, "candidate-*")
		if err != nil {
			return o, err
		}
		defer os.RemoveAll(dir)
		var ref *Run
		var why string
		one := func() (shrink.Played, error) {
			if s.spent() {
				return 0, shrink.ErrSpent
			}
			run, reason, err := s.play(ctx, p, s.tail, dir)
			switch {
			case err != nil:
				return 0, err
			case run == nil:
				why = reason
				return shrink.Left, nil
			case ref == nil:
				ref = run
				return shrink.Parted, nil // ends the search for a reference
			}
			played, reason, err := s.parts(ref, run)
			if played == shrink.Left {
				why = reason
			}
			return played, errors.Join(err, os.RemoveAll(run.Dir))
		}
		first, err := shrink.Repeat(1, one)
		if err != nil {
			return o, err
		}
		if first.Verdict != shrink.Untold {
			o, err = shrink.Repeat(most, one)
		} else {
			o.Verdict = shrink.Untold
		}
		o.Left += first.Left
		if o.Verdict == shrink.Untold {
			o.Why = why
		}
		return o, err
	}
}

// parts holds a repeat against its reference.
func (s *Shrinker) parts(ref, run *Run) (shrink.Played, string, error) {
	rep, err := lockstep.CompareWith(ref.Steps(), run.Steps(), lockstep.Options{})
	if errors.Is(err, lockstep.ErrUnseen) {
		return shrink.Left, err.Error(), nil
	}
	if err != nil {
		return 0, "", err
	}
	switch d := rep.Divergence; {
	case d == nil:
		return shrink.Clean, "", nil
	case Doubtful(d) != "":
		return shrink.Left, Doubtful(d), nil
	case !s.wanted(d):
		return shrink.Clean, "", nil
	}
	return shrink.Parted, "", nil
}

// wanted says whether a sure parting is of the kind that is looked for.
func (s *Shrinker) wanted(d *lockstep.Divergence) bool {
	return s.AnyKind || s.kind == "" || d.Kind == s.kind
}
