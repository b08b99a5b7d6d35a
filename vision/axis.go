package vision

import "math"

// maxTaps is the number of weights of both axes together up to which the
// numbers of resample.c stay exact enough: every product is cut by less than
// 1/256 of a level, so together by less than maxTaps/256 of a level, half of
// which is made up for.
const maxTaps = 256

// axis says how the samples along one axis make the pixels of the raster:
// pixel o is the sum of weight[o*taps+t] · sample[first[o]+t], over 65536.
type axis struct {
	first  []int32
	weight []uint16
	bias   []uint16 // what the cut products lose in the mean, 1/256
	taps   int
	lo, hi int // samples that are used, hi exclusive
}

// makeAxis divides the samples from..to (real numbers; sample i fills i..i+1)
// into n pixels. Where a pixel covers a sample or more it is the mean of what
// it covers, weighted by length; where it covers less it is interpolated
// linearly between the centres of the two samples next to its own centre.
// Samples outside lo..hi are taken to be as the nearest inside.
//
// Source for the mean: area averaging as in the OpenCV documentation of resize
// (INTER_AREA), here with exact overlaps; normalise_test.go.
func makeAxis(from, to float64, n, lo, hi int) axis {
	step := (to - from) / float64(n)
	exact := make([]map[int]float64, n)
	taps := 1
	for o := range exact {
		a, b := from+(to-from)*float64(o)/float64(n), from+(to-from)*float64(o+1)/float64(n)
		w := map[int]float64{}
		add := func(i int, v float64) {
			if v > 0 {
				w[min(max(i, lo), hi-1)] += v
			}
		}
		if step >= 1-1e-9 {
			for i := int(math.Floor(a)); float64(i) < b; i++ {
				over := min(b, float64(i+1)) - max(a, float64(i))
				if over > 1e-9 {
					add(i, over/step)
				}
			}
		} else {
			c := (a+b)/2 - 0.5
			i := int(math.Floor(c))
			add(i, float64(i+1)-c)
			add(i+1, c-float64(i))
		}
		exact[o] = w
		low, high := span(w)
		taps = max(taps, high-low+1)
	}
	x := axis{first: make([]int32, n), weight: make([]uint16, n*taps), bias: make([]uint16, n), taps: taps, lo: hi, hi: lo}
	for o, w := range exact {
		low, high := span(w)
		first := max(min(low, hi-taps), lo)
		x.first[o] = int32(first)
		fixed(w, x.weight[o*taps:(o+1)*taps], first)
		x.bias[o] = uint16(len(w) / 2)
		x.lo, x.hi = min(x.lo, first), max(x.hi, first+taps, high+1)
	}
	return x
}

// span is the lowest and the highest sample of a pixel.
func span(w map[int]float64) (low, high int) {
	low, high = math.MaxInt, math.MinInt
	for i := range w {
		low, high = min(low, i), max(high, i)
	}
	return low, high
}

// fixed puts the weights into 1/65536 so that they add up to one: each is the
// difference of two rounded running sums. A single weight of one is 65535.
func fixed(w map[int]float64, to []uint16, first int) {
	sum, last := 0.0, 0
	for t := range to {
		sum += w[first+t]
		next := int(math.Round(sum * 65536))
		to[t] = uint16(min(next-last, 65535))
		last = next
	}
}
