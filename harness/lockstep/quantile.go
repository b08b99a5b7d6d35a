package lockstep

import "slices"

// histogram counts whole numbers of Units from -maxFeature to maxFeature, so
// that quantiles cost no sorting.
type histogram struct {
	bins   [2*maxFeature + 1]int32
	lo, hi int // bins in use
	n      int
}

func (h *histogram) reset() {
	if h.n > 0 {
		clear(h.bins[h.lo : h.hi+1])
	}
	h.lo, h.hi, h.n = len(h.bins), -1, 0
}

func (h *histogram) add(v float32) {
	i := max(0, min(2*maxFeature, int(v+maxFeature+0.5)))
	h.bins[i]++
	h.lo, h.hi = min(h.lo, i), max(h.hi, i)
	h.n++
}

func (h *histogram) addAbs(v float32) {
	if v < 0 {
		v = -v
	}
	h.add(v)
}

// quantiles writes over each q, in rising order, the value below which that
// fraction lies: straight lines within a bin, which reaches half a unit to
// either side. With nothing counted all are 0.
func (h *histogram) quantiles(q []float64) {
	sum, k := 0.0, 0
	for i := h.lo; i <= h.hi && k < len(q); i++ {
		c := float64(h.bins[i])
		for c > 0 && k < len(q) && sum+c >= q[k]*float64(h.n) {
			q[k] = float64(i-maxFeature) - 0.5 + (q[k]*float64(h.n)-sum)/c
			k++
		}
		sum += c
	}
	for ; k < len(q); k++ {
		q[k] = 0
		if h.n > 0 {
			q[k] = float64(h.hi-maxFeature) + 0.5
		}
	}
}

func (h *histogram) quantile(q float64) float64 {
	v := [1]float64{q}
	h.quantiles(v[:])
	return v[0]
}

// spread is the standard deviation of a normal distribution with the same
// tails: the largest of what the 50, 90 and 97 % quantiles of the absolute
// residuals say. For normal noise the three agree; a codec's steps show in the
// outer two first. The divisors are the normal quantiles at 0.75 (the usual
// constant of the median absolute deviation), 0.95 and 0.985.
func (h *histogram) spread() float64 {
	q := [3]float64{0.50, 0.90, 0.97}
	h.quantiles(q[:])
	return max(0, q[0]/0.6744897501960817, q[1]/1.6448536269514722, q[2]/2.1700903775845606)
}

// ring keeps the last values.
type ring struct {
	v  []float64
	at int
	s  []float64
}

func (r *ring) put(x float64, size int) {
	if len(r.v) < size {
		r.v = append(r.v, x)
		return
	}
	r.v[r.at] = x
	r.at = (r.at + 1) % len(r.v)
}

// top is the greatest value kept, 0 when there is none.
func (r *ring) top() float64 {
	out := 0.0
	for _, x := range r.v {
		out = max(out, x)
	}
	return out
}

// middle is the median of the values kept, 0 when there is none.
func (r *ring) middle() float64 {
	r.s = append(r.s[:0], r.v...)
	slices.Sort(r.s)
	if len(r.s) == 0 {
		return 0
	}
	return r.s[len(r.s)/2]
}
