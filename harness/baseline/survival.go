package baseline

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/combin"

	"latchproof/harness/stats"
)

// lives are lifetimes as package stats has them.
type lives []stats.Lifetime

func livesOf(s Side) lives {
	out := make(lives, len(s.Lives))
	for i, l := range s.Lives {
		out[i] = stats.Lifetime{Time: l.Frame, Event: l.Parted}
	}
	return out
}

// words says when the first one parted.
func (l lives) words() string {
	first, n := math.Inf(1), 0
	for _, x := range l {
		if x.Event {
			n++
			first = min(first, x.Time)
		}
	}
	if n == 0 {
		return "none parts"
	}
	return fmt.Sprintf("the first parts at frame %.0f", first)
}

const (
	exactSums = 200_000 // sums that are counted one by one
	shuffles  = 9_999
)

// logRank is the one-sided log-rank test that a parts earlier than b, by its
// distribution over all ways to name the same runs a or b: the chance of a sum so
// great or greater, and the smallest that could have come out.
//
// The observed less the expected number of events of a (N. Mantel, Cancer
// Chemotherapy Reports 50:163-170, 1966) is the sum, over the runs of a, of 1 if
// it parts less the cumulative hazard of all runs up to its end (R. Peto and J.
// Peto, Journal of the Royal Statistical Society A 135:185-207, 1972, section
// 5). The distribution is counted when there are at most exactSums different
// ways, and otherwise drawn with a fixed seed, p = (1+b)/(1+B) (B. Phipson and G.
// K. Smyth, Statistical Applications in Genetics and Molecular Biology 9:39,
// 2010). The usual normal approximation calls 5 runs of 5 against none of 4 worse
// more often than it says.
func logRank(a, b lives) (p, least float64) {
	if len(a) == 0 || len(b) == 0 {
		return 1, 1
	}
	scores := scoresOf(append(slices.Clone(a), b...))
	seen := 0.0
	for _, s := range scores[:len(a)] {
		seen += s
	}
	groups := groupsOf(scores)
	least = extreme(groups, len(a), len(scores))
	if p, ok := counted(groups, len(a), len(scores), seen); ok {
		return p, least
	}
	return drawn(scores, len(a), seen), least
}

// rounding is what sums of scores may differ by without being different.
const rounding = 1e-9

// scoresOf are the log-rank scores of all runs together.
func scoresOf(all lives) []float64 {
	order := make([]int, len(all))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int { return cmp.Compare(all[i].Time, all[j].Time) })
	scores := make([]float64, len(all))
	hazard := 0.0
	for i := 0; i < len(order); {
		end, events := i, 0
		for ; end < len(order) && all[order[end]].Time == all[order[i]].Time; end++ {
			if all[order[end]].Event {
				events++
			}
		}
		hazard += float64(events) / float64(len(order)-i)
		for ; i < end; i++ {
			scores[order[i]] = -hazard
			if all[order[i]].Event {
				scores[order[i]]++
			}
		}
	}
	return scores
}

// group is a score and how many runs have it.
type group struct {
	score float64
	n     int
}

// groupsOf gathers equal scores, the greatest first.
func groupsOf(scores []float64) []group {
	s := slices.Sorted(slices.Values(scores))
	slices.Reverse(s)
	var out []group
	for _, v := range s {
		if k := len(out); k > 0 && out[k-1].score-v < rounding {
			out[k-1].n++
		} else {
			out = append(out, group{v, 1})
		}
	}
	return out
}

// extreme is the chance of the greatest sum of n of all.
func extreme(groups []group, n, all int) float64 {
	left, ways := n, -combin.LogGeneralizedBinomial(float64(all), float64(n))
	for _, g := range groups {
		take := min(left, g.n)
		ways += combin.LogGeneralizedBinomial(float64(g.n), float64(take))
		left -= take
	}
	return math.Exp(ways)
}

// counted is the share of sums of n of all that are no less than seen; false
// when there are too many.
func counted(groups []group, n, all int, seen float64) (float64, bool) {
	sums := 1.0
	for _, g := range groups {
		sums *= float64(min(g.n, n) + 1)
	}
	total := choose(all, n)
	if sums > exactSums || math.IsInf(total, 1) {
		return 0, false
	}
	share := 0.0
	var walk func(at, left, after int, sum, ways float64)
	walk = func(at, left, after int, sum, ways float64) {
		if left == 0 || at == len(groups) {
			if left == 0 && sum >= seen-rounding {
				share += ways
			}
			return
		}
		g := groups[at]
		after -= g.n
		for take := max(0, left-after); take <= min(left, g.n); take++ {
			walk(at+1, left-take, after, sum+float64(take)*g.score, ways*choose(g.n, take))
		}
	}
	walk(0, n, all, 0, 1/total)
	return min(share, 1), true
}

// drawn is the same by lot.
func drawn(scores []float64, n int, seen float64) float64 {
	rng := rand.New(rand.NewPCG(uint64(len(scores)), uint64(n)))
	s := slices.Clone(scores)
	hits := 1
	for range shuffles {
		sum := 0.0
		for i := range n {
			j := i + rng.IntN(len(s)-i)
			s[i], s[j] = s[j], s[i]
			sum += s[i]
		}
		if sum >= seen-rounding {
			hits++
		}
	}
	return float64(hits) / (shuffles + 1)
}
