package clock

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
)

// LeastSquares is the straight line y = intercept + slope*x with the smallest
// sum of squared residuals. It is an error when x and y differ in length, when
// there are fewer than two points or when all x are equal. Checked against the
// NIST Statistical Reference Datasets, Norris, in robust_test.go.
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
// robust_test.go.
func TheilSen(x, y []float64) (slope, intercept float64, err error) {
	if err := points(x, y); err != nil {
		return 0, 0, err
	}
	slopes := make([]float64, 0, len(x)*(len(x)-1)/2)
	for i := range x {
		for j := i + 1; j < len(x); j++ {
			if x[i] != x[j] {
				slopes = append(slopes, (y[j]-y[i])/(x[j]-x[i]))
			}
		}
	}
	slope = median(slopes)
	return slope, median(slices.Clone(y)) - slope*median(slices.Clone(x)), nil
}

func points(x, y []float64) error {
	if len(x) != len(y) {
		return fmt.Errorf("%w: %d x values for %d y values", ErrInput, len(x), len(y))
	}
	for i := 1; i < len(x); i++ {
		if x[i] != x[0] {
			return nil
		}
	}
	return fmt.Errorf("%w: a line needs two points with different x", ErrInput)
}

// median of v, which is reordered; the mean of the two middle values when
// their number is even; NaN for none.
func median(v []float64) float64 {
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
