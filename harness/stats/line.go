package stats

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
)

// LeastSquares is the straight line y = intercept + slope*x with the smallest
// sum of squared residuals. It is an error when x and y differ in length, when
// there are fewer than two points or when all x are equal. Checked against the
// NIST Statistical Reference Datasets, Norris, in line_test.go.
func LeastSquares(x, y []float64) (slope, intercept float64, err error) {
	if err := points(x, y); err != nil {
		return 0, 0, err
	}
	intercept, slope = stat.LinearRegression(x, y, nil, false)
	return slope, intercept, nil
}

// TheilSen is the robust straight line whose slope is the median of the slopes
// of all pairs of points with different x, and whose intercept is
// median(y) - slope*median(x) (H. Theil, Proc. Kon. Ned. Akad. Wetensch. A
// 53:386-392, 1950; P. K. Sen, Journal of the American Statistical Association
// 63:1379-1389, 1968). Up to 29 % of bad points do not spoil it. The work grows
// with the square of the number of points: it is for hundreds, not for a whole
// log. Errors as for LeastSquares. Checked against Sen's worked example in
// line_test.go.
func TheilSen(x, y []float64) (slope, intercept float64, err error) {
	if err := points(x, y); err != nil {
		return 0, 0, err
	}
	slopes := pairSlopes(x, y)
	slope = Median(slopes)
	return slope, Median(slices.Clone(y)) - slope*Median(slices.Clone(x)), nil
}

// TheilSenLimits is the two-sided interval for the slope of TheilSen at the
// confidence given: those two of the N sorted slopes whose places are
// (N - zσ)/2 and (N + zσ)/2, rounded to even as scipy.stats.theilslopes does,
// with the variance σ² of Kendall's statistic corrected for ties (P. K. Sen,
// 1968, section 4). It asks no shape of the errors, but that they be
// independent and alike. Errors as for TheilSen, and for a confidence that is
// not inside 0..1. Checked by line_test.go against scipy.
func TheilSenLimits(x, y []float64, confidence float64) (low, high float64, err error) {
	if err := points(x, y); err != nil {
		return 0, 0, err
	}
	if err := checkConfidence(confidence); err != nil {
		return 0, 0, err
	}
	slopes := pairSlopes(x, y)
	slices.Sort(slopes)
	n, count := float64(len(x)), float64(len(slopes))
	sigma := math.Sqrt((n*(n-1)*(2*n+5) - tied(x) - tied(y)) / 18)
	half := normalQuantile((1+confidence)/2) * sigma
	at := func(place float64) float64 {
		return slopes[int(min(max(math.RoundToEven(place), 0), count-1))]
	}
	return at(math.RoundToEven((count-half)/2) - 1), at((count + half) / 2), nil
}

// pairSlopes are the slopes of all pairs of points with different x.
func pairSlopes(x, y []float64) []float64 {
	slopes := make([]float64, 0, len(x)*(len(x)-1)/2)
	for i := range x {
		for j := i + 1; j < len(x); j++ {
			if x[i] != x[j] {
				slopes = append(slopes, (y[j]-y[i])/(x[j]-x[i]))
			}
		}
	}
	return slopes
}

// tied is the sum of k(k-1)(2k+5) over the values that occur k times.
func tied(v []float64) (sum float64) {
	s := slices.Clone(v)
	slices.Sort(s)
	for i := 0; i < len(s); {
		k := 0.0
		for j := i; i < len(s) && s[i] == s[j]; i++ {
			k++
		}
		sum += k * (k - 1) * (2*k + 5)
	}
	return sum
}

// points refuses what is no line; NaN is not looked for.
func points(x, y []float64) error {
	if len(x) != len(y) {
		return fmt.Errorf("%w: %d x values for %d y values", ErrRange, len(x), len(y))
	}
	for i := 1; i < len(x); i++ {
		if x[i] != x[0] {
			return nil
		}
	}
	return fmt.Errorf("%w: a line needs two points with different x", ErrRange)
}

// Median of v, which is reordered: the mean of the two middle values when
// their number is even; NaN for none.
func Median(v []float64) float64 {
	n := len(v)
	if n == 0 {
		return math.NaN()
	}
	slices.Sort(v)
	if n%2 == 1 {
		return v[n/2]
	}
	return v[n/2-1]/2 + v[n/2]/2
}
