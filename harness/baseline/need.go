package baseline

import "sort"

// needed finds the smallest number of further runs with which do says yes: of
// the candidate alone; where that does not do, of both benches as many each. do
// must stay true once it is.
func needed(do func(candidate, baseline int64) (bool, error)) (Need, error) {
	var failed error
	least := func(do func(int64) (bool, error)) int64 {
		return int64(1 + sort.Search(MostNeeded, func(i int) bool {
			ok, err := do(int64(i) + 1)
			if err != nil && failed == nil {
				failed = err
			}
			return ok
		}))
	}
	n := least(func(m int64) (bool, error) { return do(m, 0) })
	if n <= MostNeeded || failed != nil {
		return Need{Candidate: n}, failed
	}
	n = least(func(m int64) (bool, error) { return do(m, m) })
	if n <= MostNeeded || failed != nil {
		return Need{Candidate: n, Baseline: n}, failed
	}
	return Need{Beyond: true}, nil
}
