package lockstep

import (
	"math"
	"slices"
)

// histogram counts whole numbers of Units from -maxFeature to maxFeature, so
// that a median costs no sorting.
type histogram struct {
	bins   [2*maxFeature + 1]int32
	lo, hi int32 // bins in use
	n      int
}

func (h *histogram) reset() {
	if h.n > 0 {
		clear(h.bins[h.lo : h.hi+1])
	}
	h.lo, h.hi, h.n = 2*maxFeature+1, -1, 0
}

// add counts a difference of two features, which is always in range.
func (h *histogram) add(v int32) {
	i := v + maxFeature
	h.bins[i]++
	h.lo, h.hi = min(h.lo, i), max(h.hi, i)
	h.n++
}

// median lies on a straight line within its bin, which reaches half a unit to
// either side; 0 when nothing was counted.
func (h *histogram) median() float64 {
	sum := int32(0)
	for i := h.lo; i <= h.hi; i++ {
		c := h.bins[i]
		if c > 0 && 2*int(sum+c) >= h.n {
			return float64(i-maxFeature) - 0.5 + (float64(h.n)/2-float64(sum))/float64(c)
		}
		sum += c
	}
	return 0
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

// moments are the mean and the standard deviation of a sample of the values
// kept; 0 when there are too few.
func (r *ring) moments() (mean, sd float64) {
	n := float64(len(r.v))
	if n == 0 {
		return 0, 0
	}
	for _, x := range r.v {
		mean += x
	}
	mean /= n
	if n < 2 {
		return mean, 0
	}
	for _, x := range r.v {
		sd += (x - mean) * (x - mean)
	}
	return mean, math.Sqrt(sd / (n - 1))
}

// sampler keeps values evenly spread over a stream of unknown length, at most
// 4096 of them.
type sampler struct {
	v            []float64
	stride, next int
}

func (s *sampler) put(x float64) {
	if s.next > 0 {
		s.next--
		return
	}
	if s.stride == 0 {
		s.stride = 1
	}
	s.v = append(s.v, x)
	if len(s.v) == 4096 {
		for i := range 2048 {
			s.v[i] = s.v[2*i]
		}
		s.v = s.v[:2048]
		s.stride *= 2
	}
	s.next = s.stride - 1
}

func (s *sampler) median() float64 {
	if len(s.v) == 0 {
		return 0
	}
	v := slices.Clone(s.v)
	slices.Sort(v)
	return (v[(len(v)-1)/2] + v[len(v)/2]) / 2
}
