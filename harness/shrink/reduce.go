package shrink

import (
	"context"
	"errors"

	"latchproof/specs/program"
)

// Verdict is what testing a candidate came to.
type Verdict string

// The verdicts. Only Parts takes a candidate.
const (
	Parts  Verdict = "parts"         // a repeat parted
	Stays  Verdict = "does not part" // none of the repeats did
	Untold Verdict = "cannot tell"   // too few repeats could be compared
)

// Outcome is what testing a candidate came to, and by how many repeats.
type Outcome struct {
	Verdict Verdict
	Repeats int64 // that counted, the reference not among them
	Parted  int64
	Left    int64 // that did not count
	Why     string
}

// Oracle tests a candidate. An error ends the search.
type Oracle func(ctx context.Context, p *program.Program) (Outcome, error)

// ErrSpent ends a search whose time is up. An oracle may return it too.
var ErrSpent = errors.New("the time is up")

// Options are what a search may be told.
type Options struct {
	Limits program.Limits // of candidates
	// Cuts are numbers of reads after which the program is cut first: the first
	// that passes is taken.
	Cuts []int64
	// Spent says that no further candidate is to be tested. May be nil.
	Spent func() bool
	// Step is told of every candidate tested. May be nil.
	Step func(Step)
}

// Step is one candidate that was tested.
type Step struct {
	Number  int     `json:"step"`
	Trying  string  `json:"trying"`       // "without lines 12-18"
	Left    int64   `json:"reads_before"` // of the shortest program so far
	Reads   int64   `json:"reads"`        // of the candidate
	Repeats int64   `json:"repeats"`
	Parted  int64   `json:"parted"`
	LeftOut int64   `json:"left_out,omitempty"`
	Outcome Verdict `json:"outcome"`
	Why     string  `json:"why,omitempty"`
	Hash    string  `json:"program_hash"`
}

// Result is what a search came to.
type Result struct {
	Program *program.Program
	Steps   []Step
	Refused int  // candidates turned down because none of their repeats parted
	Untold  int  // candidates turned down because nothing could be told
	Minimal bool // the end is 1-minimal
}

// Reduce searches a shorter program than one that is known to part. The result
// is complete but for Minimal when there is an error: one of the oracle, the
// context's, or ErrSpent.
func Reduce(ctx context.Context, first *program.Program, test Oracle, o Options) (Result, error) {
	s := &search{
		ctx: ctx, test: test, opt: o,
		parts: first.Parts(), hash: first.Hash(), seen: map[string]Verdict{},
		res: Result{Program: first},
	}
	s.seen[s.hash] = Parts
	err := s.run()
	s.res.Minimal = err == nil
	return s.res, err
}

type search struct {
	ctx   context.Context
	test  Oracle
	opt   Options
	parts []program.Part // of the shortest so far
	hash  string
	seen  map[string]Verdict
	res   Result
	again bool // counts were bisected before
}

func (s *search) run() error {
	for _, reads := range s.opt.Cuts {
		if ok, err := s.cut(reads); err != nil {
			return err
		} else if ok {
			break
		}
	}
	for {
		if err := s.settle(); err != nil {
			return err
		}
		before := s.hash
		if err := s.passes(); err != nil {
			return err
		}
		if s.hash != before {
			continue
		}
		if fell, err := s.unroll(); err != nil || !fell {
			return err
		}
	}
}

// settle goes on until no statement, read or button falls away.
func (s *search) settle() error {
	for {
		before := s.hash
		for _, stage := range []func() error{s.statements, s.counts, s.buttons} {
			if err := stage(); err != nil {
				return err
			}
		}
		s.again = true
		joined, err := s.join()
		if err != nil || s.hash == before && !joined {
			return err
		}
	}
}

// try tests a candidate and takes it when it passes.
func (s *search) try(parts []program.Part, what string) (bool, error) {
	if len(parts) == 0 {
		return false, nil // no program
	}
	p, err := s.res.Program.With(parts, s.opt.Limits)
	if err != nil {
		return false, err
	}
	hash := p.Hash()
	verdict, known := s.seen[hash]
	if !known {
		if verdict, err = s.play(p, hash, what); err != nil {
			return false, err
		}
	}
	if verdict != Parts {
		return false, nil
	}
	s.parts, s.hash, s.res.Program = parts, hash, p
	return true, nil
}

func (s *search) play(p *program.Program, hash, what string) (Verdict, error) {
	if err := s.ctx.Err(); err != nil {
		return "", err
	}
	if s.opt.Spent != nil && s.opt.Spent() {
		return "", ErrSpent
	}
	o, err := s.test(s.ctx, p)
	if err != nil {
		return "", err
	}
	s.seen[hash] = o.Verdict
	switch o.Verdict {
	case Stays:
		s.res.Refused++
	case Untold:
		s.res.Untold++
	}
	step := Step{
		Number: len(s.res.Steps) + 1, Trying: what, Left: s.res.Program.Reads(), Reads: p.Reads(),
		Repeats: o.Repeats, Parted: o.Parted, LeftOut: o.Left, Outcome: o.Verdict, Why: o.Why, Hash: hash,
	}
	s.res.Steps = append(s.res.Steps, step)
	if s.opt.Step != nil {
		s.opt.Step(step)
	}
	return o.Verdict, nil
}
