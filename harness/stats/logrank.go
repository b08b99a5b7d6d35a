package stats

import "math"

// LogRankResult compares two groups a (index 0) and b (index 1).
type LogRankResult struct {
	Observed  [2]float64 `json:"observed"` // events
	Expected  [2]float64 `json:"expected"` // events, were the groups alike
	Variance  float64    `json:"variance"` // of Observed-Expected of either group
	Z         float64    `json:"z"`        // (Observed-Expected)/√Variance of a; > 0: a has more events than expected
	ChiSquare float64    `json:"chi_square"`
	P         float64    `json:"p"`       // two-sided
	Less      float64    `json:"less"`    // chance of a Z so small or smaller, were the groups alike
	Greater   float64    `json:"greater"` // of one so great or greater: small when a parts sooner than b
}

// LogRank tests whether two groups of lives have the same survival curve: the
// log-rank test with the hypergeometric variance (N. Mantel, Cancer
// Chemotherapy Reports 50:163-170, 1966; R. Peto and J. Peto, Journal of the
// Royal Statistical Society A 135:185-207, 1972). It is strongest when the
// rate of one group is a multiple of the other's at all times, and weak when
// the curves cross. The p values are those of the normal distribution, an
// approximation: with fewer than some ten events use FisherExact as well.
//
// When nothing can be compared (a group without lives, no event while both
// were at risk) Z is 0 and all p values are 1. Errors as for KaplanMeier.
// Checked by logrank_test.go against published values and against R survdiff.
func LogRank(a, b []Lifetime) (LogRankResult, error) {
	var r LogRankResult
	for _, g := range [][]Lifetime{a, b} {
		if err := checkLives(g); err != nil {
			return r, err
		}
	}
	ma, mb := moments(a), moments(b)
	for len(ma) > 0 || len(mb) > 0 {
		var y, d [2]float64
		t := math.Inf(1)
		for _, m := range [][]moment{ma, mb} {
			if len(m) > 0 {
				t = min(t, m[0].time)
			}
		}
		for g, m := range []*[]moment{&ma, &mb} {
			if len(*m) == 0 {
				continue
			}
			first := (*m)[0]
			y[g] = float64(first.atRisk)
			if first.time == t {
				d[g] = float64(first.events)
				*m = (*m)[1:]
			}
		}
		n, events := y[0]+y[1], d[0]+d[1]
		if events == 0 {
			continue
		}
		for g := range y {
			r.Observed[g] += d[g]
			r.Expected[g] += events * y[g] / n
		}
		if n > 1 {
			r.Variance += events * (y[0] / n) * (y[1] / n) * (n - events) / (n - 1)
		}
	}
	if !(r.Variance > 0) {
		r.P, r.Less, r.Greater = 1, 1, 1
		return r, nil
	}
	r.Z = (r.Observed[0] - r.Expected[0]) / math.Sqrt(r.Variance)
	r.ChiSquare = r.Z * r.Z
	r.Greater, r.Less = normalAbove(r.Z), normalAbove(-r.Z)
	r.P = min(1, 2*min(r.Greater, r.Less))
	return r, nil
}
