package decision

import (
	"maps"
	"slices"
	"strings"
	"time"

	"latchproof/harness/attest"
	"latchproof/harness/record"
)

// Stated is what a certificate states besides what was decided.
type Stated struct {
	Versions map[string]string // see Versions
	Rests    []string          // what only the videos can tell wholly; sorted, each once
	// Book says that the time was compared with a record book, and Before is its best
	// of the category before, if there was one.
	Book      bool
	Before    *attest.PredicateBefore
	Certified time.Time
}

// Predicate is what the certificate of a certified claim states; its key is set by
// attest.Sign.
func Predicate(d Decision, s Stated) attest.Predicate {
	p := attest.Predicate{
		Claim: attest.PredicateClaim{
			Name: d.Claim.Claim, By: d.Claim.By, Category: d.Claim.Category, Frames: d.Claim.Frames, ProgramHash: d.Claim.Program,
		},
		House: attest.PredicateHouse{
			Name: d.Policy.House, Repeats: d.Policy.Repeats, Lockstep: d.Policy.Lockstep, Benches: d.Policy.Benches, Ties: d.Policy.Ties,
		},
		Standing: "none", Frames: d.Lockstep.Compared, Unseen: d.Lockstep.Unseen,
		Versions: s.Versions, Certified: s.Certified.UTC().Format(time.RFC3339), RestsOnVideo: s.Rests,
	}
	if m := d.Measured; m != nil {
		p.Measured = attest.PredicateTime{Frames: m.Frames, Low: m.Low, High: m.High, Seconds: m.Seconds}
	}
	if s.Book {
		var before *Before
		if b := s.Before; b != nil {
			before = &Before{Index: b.Index, Frames: b.Frames, By: b.By, Leaf: b.Leaf}
		}
		p.Standing, p.Before = string(Stand(p.Measured.Frames, before)), s.Before
	}
	for _, b := range d.Benches {
		p.Benches = append(p.Benches, attest.PredicateBench{Name: b.Name, Runs: b.Runs, Lockstep: b.Lockstep})
	}
	slices.SortFunc(p.Benches, func(a, b attest.PredicateBench) int { return strings.Compare(a.Name, b.Name) })
	return p
}

// Versions are those of the programs that took part in the runs, by name; where runs
// name different ones, all of them, sorted, with commas.
func Versions(runs ...record.Meta) map[string]string {
	all := map[string][]string{}
	for _, m := range runs {
		for name, v := range m.Versions {
			all[name] = append(all[name], v)
		}
	}
	out := map[string]string{}
	for name := range maps.Keys(all) {
		slices.Sort(all[name])
		out[name] = strings.Join(slices.Compact(all[name]), ", ")
	}
	return out
}
