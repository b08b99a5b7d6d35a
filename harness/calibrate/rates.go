package calibrate

import (
	"math"

	"latchproof/specs/console"
)

// standardRate is a picture rate that cards have.
type standardRate struct {
	rate console.Rate
	name string
}

// standardRates: 525-line colour television has 30000/1001 pictures and
// 60000/1001 fields a second, 625-line television 25 and 50 (Recommendations
// ITU-R BT.470 and BT.601); the others are what computers' displays and cards
// have besides (common practice, no source).
var standardRates = []standardRate{
	{console.Rate{Num: 60000, Den: 1001}, "the field rate of 525-line television"},
	{console.Rate{Num: 30000, Den: 1001}, "the picture rate of 525-line television"},
	{console.Rate{Num: 50, Den: 1}, "the field rate of 625-line television"},
	{console.Rate{Num: 25, Den: 1}, "the picture rate of 625-line television"},
	{console.Rate{Num: 60, Den: 1}, "a computer display's rate"},
	{console.Rate{Num: 30, Den: 1}, "half a computer display's rate"},
	{console.Rate{Num: 120, Den: 1}, "twice a computer display's rate"},
	{console.Rate{Num: 120000, Den: 1001}, "twice the field rate of 525-line television"},
	{console.Rate{Num: 24000, Den: 1001}, "film on 525-line television"},
	{console.Rate{Num: 24, Den: 1}, "film"},
}

// nearestRate is the standard rate nearest to hz, or the console's own, or half
// of it for pictures of two fields, and how far hz is off it, parts per million.
func nearestRate(hz float64, p console.Profile) (r standardRate, ppm float64) {
	own := []standardRate{
		{p.Rate, "the console's own rate"},
		{console.Rate{Num: p.Rate.Num, Den: 2 * p.Rate.Den}, "half the console's own rate"},
	}
	best := math.Inf(1)
	for _, s := range append(own, standardRates...) {
		if off := (hz/s.rate.Hz() - 1) * 1e6; math.Abs(off) < best {
			best, ppm, r = math.Abs(off), off, s
		}
	}
	return r, ppm
}
