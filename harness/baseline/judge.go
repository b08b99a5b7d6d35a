package baseline

import (
	"fmt"

	"latchproof/harness/stats"
)

// ErrOptions marks options that no verdict can be made by.
var ErrOptions = fmt.Errorf("baseline: options out of range")

// Check says whether a verdict can be made by the options: ErrOptions.
func (o Options) Check() error {
	switch {
	case !(o.Alpha > 0 && o.Alpha < 0.5):
		return fmt.Errorf("%w: alpha %v is not between 0 and 0.5", ErrOptions, o.Alpha)
	case !(o.Margin > 0 && o.Margin < 1):
		return fmt.Errorf("%w: margin %v is not between 0 and 1", ErrOptions, o.Margin)
	case !(o.Times >= 1 && o.Times < 1e6) || !(o.PlusUS >= 0 && o.PlusUS < 1e9):
		return fmt.Errorf("%w: %v times and %v us more", ErrOptions, o.Times, o.PlusUS)
	}
	return nil
}

// Judge says whether the candidate is worse than the baseline; doc.go has the
// rules. It is a function of its arguments alone. Errors: ErrOptions, and those
// of package stats.
func Judge(specs []Evidence, o Options) (Verdicts, error) {
	out := Verdicts{Verdict: NoWorse, Alpha: o.Alpha, Margin: o.Margin}
	if err := o.Check(); err != nil {
		return out, err
	}
	var tests []*asked
	all := make([][]*asked, len(specs))
	notes := make([][]string, len(specs))
	for i, e := range specs {
		list, more := questions(e, o)
		notes[i] = more
		for _, q := range list {
			if err := q.ask(o); err != nil {
				return out, fmt.Errorf("%s: %s: %w", e.Name, q.row.What, err)
			}
			// A test that could not have come out, whatever was seen, is none.
			if q.row.Tested = q.least <= o.Alpha; q.row.Tested {
				tests = append(tests, q)
			}
		}
		all[i] = list
	}
	p := make([]float64, len(tests))
	for i, q := range tests {
		p[i] = q.row.P
	}
	for i, adjusted := range stats.Holm(p) {
		tests[i].row.Adjusted = adjusted
	}
	out.Tests = len(tests)
	for i, e := range specs {
		s, err := settle(e.Name, all[i], o)
		if err != nil {
			return out, err
		}
		s.Notes = notes[i]
		out.Specs = append(out.Specs, s)
		out.Verdict, out.Need = join(out.Verdict, s.Verdict), out.Need.worst(s.Need)
	}
	if out.Verdict != CannotTell {
		out.Need = Need{}
	}
	if len(specs) == 0 {
		out.Verdict = CannotTell
	}
	return out, nil
}

// settle gives the verdicts of a spec's rows when their tests are corrected.
func settle(name string, list []*asked, o Options) (SpecVerdict, error) {
	s := SpecVerdict{Name: name, Verdict: NoWorse, Rows: []Row{}}
	var lockstep Verdict
	for _, q := range list {
		r := &q.row
		switch {
		case r.Tested && r.Adjusted <= o.Alpha:
			r.Verdict = Worse
		case r.What == RowSurvival: // its limit is that of the lockstep
			r.Verdict = lockstep
			if lockstep == Worse {
				r.Verdict = CannotTell
			}
		case q.shown:
			r.Verdict = NoWorse
		default:
			r.Verdict = CannotTell
			var err error
			if r.Need, err = q.need(o); err != nil {
				return s, fmt.Errorf("%s: %s: %w", name, r.What, err)
			}
		}
		if r.What == RowLockstep {
			lockstep = r.Verdict
		}
		s.Verdict, s.Need = join(s.Verdict, r.Verdict), s.Need.worst(r.Need)
		s.Rows = append(s.Rows, *r)
	}
	if s.Verdict != CannotTell {
		s.Need = Need{}
	}
	return s, nil
}

// join is the verdict of two: what is surely worse outweighs what cannot be
// told.
func join(a, b Verdict) Verdict {
	for _, v := range []Verdict{Worse, CannotTell} {
		if a == v || b == v {
			return v
		}
	}
	return NoWorse
}

// asked is one question with its answer.
type asked struct {
	row   Row
	count *counts  // one of the three
	times *times   //
	lives [2]lives // of the candidate and the baseline; for survival
	least float64  // the smallest P that could have come out
	shown bool     // to be no worse, by its margin
}

func (q *asked) ask(o Options) (err error) {
	q.row.Adjusted = 1
	var limit float64
	switch {
	case q.count != nil:
		q.row.P, q.least, limit, err = q.count.test(o)
		q.shown = limit < o.Margin
	case q.times != nil:
		q.row.P, q.least, limit, err = q.times.test()
		q.shown = limit <= o.Alpha
	default:
		q.row.P, q.least = logRank(q.lives[0], q.lives[1])
		return nil
	}
	q.row.Limit = &limit
	return err
}

func (q *asked) need(o Options) (Need, error) {
	if q.count != nil {
		return needed(func(candidate, baseline int64) (bool, error) { return q.count.wouldDo(candidate, baseline, o) })
	}
	return needed(func(candidate, baseline int64) (bool, error) { return q.times.wouldDo(candidate, baseline, o) })
}
