package verify

import (
	"slices"
	"time"

	"latchproof/harness/decision"
	"latchproof/harness/record"
)

// certificate holds what the certificate states against what follows from the
// files. When it was certified, and what was the best before, is the maker's to say.
func (v *verifier) certificate(d *decision.Decision) error {
	told := v.cert.Predicate
	at, err := time.Parse(time.RFC3339, told.Certified)
	if err != nil {
		return broken("certified: %v", err)
	}
	metas := make([]record.Meta, len(v.runs))
	rests := []string{}
	for i, r := range v.runs {
		metas[i] = r.rec.Meta
		for _, x := range r.judged.Rests {
			rests = append(rests, x.What)
		}
		if m := r.rec.Meta; m.Ended != nil && m.Ended.Truncate(time.Second).After(at) {
			return broken("it was certified at %s, before %s ended", told.Certified, r.name)
		}
	}
	slices.Sort(rests)
	want := decision.Predicate(*d, decision.Stated{
		Versions: decision.Versions(metas...), Rests: slices.Compact(rests),
		Book: told.Standing != "none", Before: told.Before, Certified: at,
	})
	want.Key = told.Key
	if at := differ(told, want); at != "" {
		return broken("it states what does not follow: %s", at)
	}
	return nil
}
