package shrink

// Minimize gives the indexes of 0..n-1 that are left, in order, when taking out
// any single one more is turned down: ddmin of Zeller and Hildebrandt (2002,
// figure 4) with complements only. test says whether the given indexes pass; that
// all of them do is taken for granted. It is called for no more than n²+3n sets
// (proposition 12 there), the empty one included. What an error of test leaves
// is the smallest set that passed, with the error.
func Minimize(n int, test func(kept []int) (bool, error)) ([]int, error) {
	kept := make([]int, n)
	for i := range kept {
		kept[i] = i
	}
	chunks, at, failed := min(2, n), 0, 0
	for len(kept) > 0 {
		low, high := at*len(kept)/chunks, (at+1)*len(kept)/chunks
		rest := append(append(make([]int, 0, len(kept)), kept[:low]...), kept[high:]...)
		ok, err := test(rest)
		if err != nil {
			return kept, err
		}
		if ok {
			kept, failed = rest, 0
			chunks = min(max(chunks-1, 2), len(kept))
			if at >= chunks {
				at = 0
			}
			continue
		}
		if failed++; failed < chunks {
			at = (at + 1) % chunks
			continue
		}
		if chunks == len(kept) {
			break
		}
		chunks, at, failed = min(2*chunks, len(kept)), 0, 0
	}
	return kept, nil
}

// Least gives a count from 1 to have that passes while one less does not, or 1,
// by bisection. That have passes is taken for granted. With near, one less than
// have is tried first: cheaper when the count is believed to be least already.
// An error of test ends it with the least count that passed.
func Least(have int64, near bool, test func(count int64) (bool, error)) (int64, error) {
	low, high := int64(0), have // low is turned down, high passes
	for high-low > 1 {
		mid := low + (high-low)/2
		if near {
			mid, near = high-1, false
		}
		ok, err := test(mid)
		if err != nil {
			return high, err
		}
		if ok {
			high = mid
		} else {
			low = mid
		}
	}
	return high, nil
}
