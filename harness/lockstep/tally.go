package lockstep

import "math"

// tally counts absolute differences of two features in whole Units, so that
// quantiles cost no sorting.
type tally struct {
	bins [1024]int32 // 0..maxFeature are used
	hi   int32       // no bin beyond it is in use
	n    int32
}

func (t *tally) reset() {
	clear(t.bins[:t.hi+1])
	t.hi, t.n = 0, 0
}

// count is add without the account of hi and n, which seal keeps.
func (t *tally) count(v int32) { t.bins[v&1023]++ }

// seal notes n values counted, none beyond hi.
func (t *tally) seal(n, hi int32) { t.n, t.hi = t.n+n, max(t.hi, hi) }

// quantiles writes over each q, in rising order, the value below which that
// fraction lies: straight lines within a bin, which reaches half a unit to
// either side. With nothing counted all are 0.
func (t *tally) quantiles(q []float64) {
	if t.n == 0 {
		clear(q)
		return
	}
	n := float64(t.n)
	sum, k := int32(0), 0
	want := int32(math.Ceil(q[0] * n))
	for i, c := range t.bins[:t.hi+1] {
		for c > 0 && sum+c >= want {
			q[k] = float64(i) - 0.5 + (q[k]*n-float64(sum))/float64(c)
			if k++; k == len(q) {
				return
			}
			want = int32(math.Ceil(q[k] * n))
		}
		sum += c
	}
}

func (t *tally) quantile(q float64) float64 {
	v := [1]float64{q}
	t.quantiles(v[:])
	return v[0]
}

// spread is the standard deviation of a normal distribution with the same
// tails: the largest of what the 50, 90 and 97 % quantiles of the absolute
// residuals say. For normal noise the three agree; a codec's steps show in the
// outer two first. The divisors are the normal quantiles at 0.75 (the usual
// constant of the median absolute deviation), 0.95 and 0.985.
func (t *tally) spread() float64 {
	q := [3]float64{0.50, 0.90, 0.97}
	t.quantiles(q[:])
	return max(0, q[0]/0.6744897501960817, q[1]/1.6448536269514722, q[2]/2.1700903775845606)
}

// middling counts signed differences near 0 for a median that is bounded.
type middling struct{ bins [2*middleReach + 3]int32 }

// middleReach bounds the median, Units.
const middleReach = int32(offsetSlack)

func (m *middling) add(v int32) { m.bins[max(-middleReach-1, min(middleReach+1, v))+middleReach+1]++ }

// median is the median, at most middleReach either way; straight lines within a
// bin, which reaches half a unit to either side.
func (m *middling) median() float64 {
	n := int32(0)
	for _, c := range m.bins {
		n += c
	}
	sum := int32(0)
	for i, c := range m.bins {
		if c > 0 && 2*(sum+c) >= n {
			x := float64(int32(i)-middleReach-1) - 0.5 + (float64(n)/2-float64(sum))/float64(c)
			return max(-float64(middleReach), min(float64(middleReach), x))
		}
		sum += c
	}
	return 0
}
