package stats

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// RankSumResult compares two samples a and b.
type RankSumResult struct {
	// U is the number of pairs of one value of a and one of b in which a's is
	// greater; a tie counts half. R's wilcox.test calls it W.
	U        float64 `json:"u"`
	Less     float64 `json:"less"`    // chance of a U so small or smaller, were the samples alike
	Greater  float64 `json:"greater"` // of one so great or greater: small when a tends to be greater
	TwoSided float64 `json:"two_sided"`
	Exact    bool    `json:"exact"` // false when the normal approximation was used
}

// rankSumWork bounds the sums of the exact distribution: about 0.3 s.
const rankSumWork = 2e8

// RankSum is the Wilcoxon-Mann-Whitney test (F. Wilcoxon, Biometrics Bulletin
// 1:80-83, 1945; H. B. Mann and D. R. Whitney, Annals of Mathematical
// Statistics 18:50-60, 1947): would the values of a and b be split so if every
// split of all of them were equally likely?
//
// Values that are equal share the mean of their ranks. The distribution of the
// rank sum is counted exactly, ties included, by the shift algorithm (B.
// Streitberg and J. Röhmel, Statistical Software Newsletter 12:10-17, 1986).
// For large samples (about 90 values in each) it is replaced by the normal
// distribution with the variance corrected for ties and a continuity
// correction, and Exact is false. The two-sided value is twice the smaller of
// the one-sided ones, at most 1. With an empty sample all three are 1.
//
// NaN is refused (ErrRange). Checked by ranksum_test.go against R, scipy and
// the counting of all splits.
func RankSum(a, b []float64) (RankSumResult, error) {
	type value struct {
		v   float64
		ofA bool
	}
	var all []value
	for i, s := range [][]float64{a, b} {
		for _, v := range s {
			if math.IsNaN(v) {
				return RankSumResult{}, fmt.Errorf("%w: a value is no number", ErrRange)
			}
			all = append(all, value{v, i == 0})
		}
	}
	slices.SortFunc(all, func(x, y value) int { return cmp.Compare(x.v, y.v) })
	// Ranks are doubled, so that those of ties are whole as well.
	ranks := make([]int, 0, len(all))
	sum, tied := 0, 0.0
	for i := 0; i < len(all); {
		j := i
		for j < len(all) && all[j].v == all[i].v {
			j++
		}
		n := float64(j - i)
		tied += n*n*n - n
		for ; i < j; i++ {
			ranks = append(ranks, 0)
		}
		first := j - int(n)
		for k := first; k < j; k++ {
			ranks[k] = first + j + 1
			if all[k].ofA {
				sum += ranks[k]
			}
		}
	}
	na, nb := len(a), len(b)
	r := RankSumResult{U: float64(sum-na*(na+1)) / 2}
	if na == 0 || nb == 0 {
		r.Less, r.Greater, r.Exact = 1, 1, true
	} else if small := float64(min(na, nb)); small*small*float64(len(all))*float64(len(all)) <= rankSumWork*4 {
		r.Exact = true
		if na <= nb {
			r.Less, r.Greater = splits(ranks, na, sum)
		} else {
			rest := len(all)*(len(all)+1) - sum
			r.Greater, r.Less = splits(ranks, nb, rest)
		}
	} else {
		r.Less, r.Greater = normalRankSum(r.U, float64(na), float64(nb), tied)
	}
	r.TwoSided = min(1, 2*min(r.Less, r.Greater))
	return r, nil
}

// splits is the share of all choices of n of the ranks whose sum is at most,
// and at least, the sum given.
func splits(ranks []int, n, sum int) (less, greater float64) {
	most := 0
	for _, r := range ranks[len(ranks)-n:] {
		most += r
	}
	// count[k][s]: choices of k ranks so far with the sum s.
	count := make([][]float64, n+1)
	for k := range count {
		count[k] = make([]float64, most+1)
	}
	count[0][0] = 1
	for i, r := range ranks {
		for k := min(i+1, n); k > 0; k-- {
			to, from := count[k], count[k-1]
			for s := most; s >= r; s-- {
				to[s] += from[s-r]
			}
		}
	}
	var total float64
	for s, c := range count[n] {
		total += c
		if s <= sum {
			less += c
		}
		if s >= sum {
			greater += c
		}
	}
	return less / total, greater / total
}

func normalRankSum(u, na, nb, tied float64) (less, greater float64) {
	n := na + nb
	sigma := math.Sqrt(na * nb / 12 * (n + 1 - tied/(n*(n-1))))
	if !(sigma > 0) {
		return 1, 1 // all values are equal
	}
	off := u - na*nb/2
	return normalAbove(-(off + 0.5) / sigma), normalAbove((off - 0.5) / sigma)
}
