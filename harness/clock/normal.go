package clock

import "math"

// normal is the share of a normal law below z standard deviations; 0 for what is
// no number. Abramowitz and Stegun, Handbook of Mathematical Functions, 26.2.29.
func normal(z float64) float64 {
	if math.IsNaN(z) {
		return 0
	}
	return math.Erfc(-z/math.Sqrt2) / 2
}
