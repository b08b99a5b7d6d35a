package baseline

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"latchproof/harness/stats"
)

// times are one time of every run: the candidate's, and the most that they may
// be, which is one of the baseline's each with the margin on it.
type times struct{ have, most []float64 }

// leastTime is what a board's clock of whole microseconds rounds by, RMS:
// 1/sqrt(12). A baseline's time is taken for no less, so that a multiple of it
// is a margin.
const leastTime = 0.288675

func newTimes(candidate, baseline []float64, factor, plus float64) *times {
	t := &times{have: slices.Sorted(slices.Values(candidate))}
	for _, v := range baseline {
		t.most = append(t.most, max(v, leastTime)*factor+plus)
	}
	slices.Sort(t.most)
	return t
}

// test gives the chance of times so long when the margin is all that they are
// longer by, the smallest that could have come out, and the chance of times so
// short then.
func (t *times) test() (p, least, short float64, err error) {
	r, err := stats.RankSum(t.have, t.most)
	if err != nil {
		return 1, 1, 1, err
	}
	return r.Greater, 1 / choose(len(t.have)+len(t.most), len(t.have)), r.Less, nil
}

// exactUpTo is up to how many runs the need for more is found by the exact test.
const exactUpTo = 60

// wouldDo says whether so many more runs would show that the times are within
// their margin, if the runs had the same times over again.
func (t *times) wouldDo(candidate, baseline int64, o Options) (bool, error) {
	n1, n0 := int64(len(t.have))+candidate, int64(len(t.most))+baseline
	if n1+n0 <= exactUpTo {
		r, err := stats.RankSum(stretch(t.have, int(n1)), stretch(t.most, int(n0)))
		return r.Less <= o.Alpha, err
	}
	theta := t.beyond()
	if theta == 0 {
		return true, nil // 1 in choose(n0+n1, n1), or it lacks runs on one side only
	}
	// The normal approximation: Mann and Whitney 1947, equation (4), for the
	// variance of U.
	z := (0.5 - theta) * math.Sqrt(12*float64(n0)*float64(n1)/float64(n0+n1+1))
	return distuv.UnitNormal.Survival(z) <= o.Alpha, nil
}

// beyond is the share of pairs in which the candidate's time is beyond what it
// may be; ties count half.
func (t *times) beyond() float64 {
	sum := 0.0
	for _, x := range t.have {
		for _, y := range t.most {
			switch {
			case x > y:
				sum++
			case x == y:
				sum += 0.5
			}
		}
	}
	return sum / float64(len(t.have)) / float64(len(t.most))
}

// stretch repeats the values, which are in order, evenly until there are n.
func stretch(x []float64, n int) []float64 {
	out := make([]float64, n)
	copy(out, x)
	more := n - len(x)
	for i := range more {
		out[len(x)+i] = x[int((float64(i)+0.5)*float64(len(x))/float64(more))]
	}
	return out
}

// choose is the number of ways to take k of n.
func choose(n, k int) float64 {
	out := 1.0
	for i := 1; i <= min(k, n-k); i++ {
		out *= float64(n-min(k, n-k)+i) / float64(i)
	}
	return out
}
