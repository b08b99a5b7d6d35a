package stats

import (
	"cmp"
	"math"
	"slices"
)

// Holm adjusts p values for their number, in the same order: to call those at
// most 0.05 significant after it keeps the chance of any false one among them
// at 5 %, whatever their dependence (S. Holm, Scandinavian Journal of
// Statistics 6:65-70, 1979). The i-th smallest of m is multiplied by m-i+1,
// made no smaller than the one before it and no greater than 1.
//
// NaN stands for a test that was not made: it stays NaN and is not counted, as
// in R's p.adjust. Checked by holm_test.go.
func Holm(p []float64) []float64 {
	out := slices.Clone(p)
	var order []int
	for i, v := range p {
		if !math.IsNaN(v) {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(p[a], p[b]) })
	floor := 0.0
	for rank, i := range order {
		floor = max(floor, min(1, p[i]*float64(len(order)-rank)))
		out[i] = floor
	}
	return out
}
