package index

import (
	"cmp"
	"slices"

	"latchproof/harness/stats"
)

// falls compares, for each bench, the sessions of its current configuration with
// those of the one in use before it.
func (x *Index) falls() {
	x.Fell = []Fall{}
	type pair struct{ now, then, first, last int } // configurations; first session of now, last of then
	pairs := map[benchKey]*pair{}
	for i := range x.Sessions { // newest first
		s := &x.Sessions[i]
		if !s.Dated {
			continue
		}
		p := pairs[s.benchKey()]
		switch {
		case p == nil:
			pairs[s.benchKey()] = &pair{s.Configuration, -1, i, -1}
		case s.Configuration == p.now && p.then < 0:
			p.first = i
		case p.then < 0:
			p.then, p.last = s.Configuration, i
		}
	}
	type key struct {
		bench benchKey
		spec  string
	}
	counts := map[key]*Fall{}
	var order []key
	for i := range x.Sessions {
		s := &x.Sessions[i]
		p := pairs[s.benchKey()]
		if !s.Dated || p == nil || p.then < 0 || s.Configuration != p.now && s.Configuration != p.then {
			continue
		}
		for _, sp := range s.verdicts() {
			if sp.Verdict == untold {
				continue
			}
			k := key{s.benchKey(), sp.Name}
			f := counts[k]
			if f == nil {
				f = &Fall{Bench: s.Bench, Spec: sp.Name, Since: p.first, Before: p.last}
				counts[k] = f
				order = append(order, k)
			}
			of, in := &f.Of, &f.Held
			if s.Configuration == p.then {
				of, in = &f.OfThen, &f.HeldThen
			}
			*of++
			if sp.Verdict == held {
				*in++
			}
		}
	}
	var tested []*Fall
	var ps []float64
	for _, k := range order {
		f := counts[k]
		if f.Of == 0 || f.OfThen == 0 {
			continue
		}
		r, err := stats.FisherExact(f.Of-f.Held, f.Of, f.OfThen-f.HeldThen, f.OfThen)
		if err != nil {
			continue
		}
		tested, ps = append(tested, f), append(ps, r.Greater)
	}
	for i, p := range stats.Holm(ps) {
		if f := tested[i]; p <= 0.05 {
			f.P, f.Changed = p, x.changed(f.Before, f.Since, f.Spec)
			x.Fell = append(x.Fell, *f)
		}
	}
	slices.SortStableFunc(x.Fell, func(a, b Fall) int { return cmp.Compare(a.P, b.P) })
}
