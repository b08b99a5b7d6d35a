package lockstep

import "slices"

// histogram counts residuals in Units, one bin each, so that quantiles cost no
// sorting.
type histogram struct {
	bins [2*histMax + 1]int32
	n    int
}

const histMax = maxFeature

func (h *histogram) reset() { *h = histogram{} }

func (h *histogram) add(v float32) {
	i := int(v + histMax + 0.5)
	h.bins[max(0, min(2*histMax, i))]++
	h.n++
}

func (h *histogram) addAbs(v float32) {
	if v < 0 {
		v = -v
	}
	h.add(v)
}

// quantile is the value below which the fraction q lies, within a bin by
// straight-line interpolation; a bin reaches half a unit to either side.
func (h *histogram) quantile(q float64) float64 {
	if h.n == 0 {
		return 0
	}
	want := q * float64(h.n)
	var sum float64
	for i, c := range h.bins {
		if c == 0 {
			continue
		}
		if sum+float64(c) >= want {
			return float64(i-histMax) - 0.5 + (want-sum)/float64(c)
		}
		sum += float64(c)
	}
	return histMax
}

// spread is the standard deviation of a normal distribution with the same
// tails: the largest of what the 50, 90 and 97 % quantiles of the absolute
// residuals say. For normal noise the three agree; a codec's steps show in the
// outer two first. The divisors are the normal quantiles at 0.75 (the usual
// constant of the median absolute deviation), 0.95 and 0.985.
func (h *histogram) spread() float64 {
	return max(0,
		h.quantile(0.50)/0.6744897501960817,
		h.quantile(0.90)/1.6448536269514722,
		h.quantile(0.97)/2.1700903775845606)
}

// ring keeps the last stillSize values.
type ring struct {
	v  []float64
	at int
	s  []float64
}

func (r *ring) put(x float64) {
	if len(r.v) < 2*stillSize { // two runs feed it
		r.v = append(r.v, x)
		return
	}
	r.v[r.at] = x
	r.at = (r.at + 1) % len(r.v)
}

func (r *ring) median() float64 {
	if len(r.v) == 0 {
		return 0
	}
	r.s = append(r.s[:0], r.v...)
	slices.Sort(r.s)
	return r.s[len(r.s)/2]
}
