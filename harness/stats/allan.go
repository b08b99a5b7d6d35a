package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Stability is how steady a clock is over one averaging time.
type Stability struct {
	Tau   float64 `json:"tau"`   // averaging time m*tau0, in the unit of tau0
	Value float64 `json:"value"` // Allan deviation: a plain ratio; time deviation: in the unit of the phase
	Terms int     `json:"terms"` // squares in the mean
	// Low and High are the 95 % limits of an Allan deviation under white
	// frequency noise; both 0 where none are given.
	Low  float64 `json:"low,omitempty"`
	High float64 `json:"high,omitempty"`
}

// AllanDeviation is the overlapping Allan deviation over m steps of tau0: with
// N phase points x (time errors, in the unit of tau0)
//
//	σ² = Σ (x[i+2m] - 2x[i+m] + x[i])² / (2 (m tau0)² terms), i = 0..N-2m-1
//
// (W. J. Riley, Handbook of Frequency Stability Analysis, NIST Special
// Publication 1065, 2008, section 5.2.4). NaN is a missing point: the terms
// that need it are left out.
//
// Without missing points Low and High are the two-sided 95 % limits from the
// chi-square distribution with the degrees of freedom for white frequency
// noise, (3(N-1)/2m - 2(N-2)/N) 4m²/(4m²+5) (the same, section 5.4.1; D. A.
// Howe, D. W. Allan and J. A. Barnes, 1981). Other noise has others: for
// jitter of the stamps alone they are too wide at large m.
//
// It is an error (ErrRange) when tau0 is not above 0, m below 1, a point
// infinite or no term is left. Checked by allan_test.go.
func AllanDeviation(phase []float64, tau0 float64, m int) (Stability, error) {
	if err := checkPhase(phase, tau0, m); err != nil {
		return Stability{}, err
	}
	var sum float64
	s := Stability{Tau: float64(m) * tau0}
	for i := range max(0, len(phase)-2*m) {
		if d := second(phase, i, m); !math.IsNaN(d) {
			sum += d * d
			s.Terms++
		}
	}
	if s.Terms == 0 {
		return Stability{}, noTerm(phase, m)
	}
	s.Value = math.Sqrt(sum/(2*float64(s.Terms))) / s.Tau
	if s.Terms == len(phase)-2*m {
		s.Low, s.High = deviationLimits(s.Value, whiteFrequency(len(phase), m), 0.95)
	}
	return s, nil
}

// TimeDeviation is the time deviation over m steps of tau0, m tau0/√3 times the
// modified Allan deviation, in the unit of the phase:
//
//	σ² = Σ ((1/m) Σ (x[i+2m] - 2x[i+m] + x[i]))² / (6 terms)
//
// with i = j..j+m-1 inside and j = 0..N-3m outside (NIST Special Publication
// 1065, sections 5.2.5 and 5.2.6; ITU-T G.810). Missing points and errors as
// for AllanDeviation; no limits are given. Checked by allan_test.go.
func TimeDeviation(phase []float64, tau0 float64, m int) (Stability, error) {
	if err := checkPhase(phase, tau0, m); err != nil {
		return Stability{}, err
	}
	s := Stability{Tau: float64(m) * tau0}
	// Sums of the last m differences, and how many of them are missing.
	var sum, inside float64
	missing := 0
	put := func(i int, sign float64) {
		if d := second(phase, i, m); math.IsNaN(d) {
			missing += int(sign)
		} else {
			inside += sign * d
		}
	}
	for i := range max(0, len(phase)-2*m) {
		put(i, 1)
		if i >= m {
			put(i-m, -1)
		}
		if i >= m-1 && missing == 0 {
			mean := inside / float64(m)
			sum += mean * mean
			s.Terms++
		}
	}
	if s.Terms == 0 {
		return Stability{}, noTerm(phase, m)
	}
	s.Value = math.Sqrt(sum / (6 * float64(s.Terms)))
	return s, nil
}

// Octaves are the averaging factors 1, 2, 4, ... for which both deviations of n
// phase points have a term: up to n/3.
func Octaves(n int) []int {
	var out []int
	for m := 1; m <= n/3; m *= 2 {
		out = append(out, m)
	}
	return out
}

func second(x []float64, i, m int) float64 { return (x[i+2*m] - x[i+m]) - (x[i+m] - x[i]) }

// whiteFrequency is the degrees of freedom under white frequency noise.
func whiteFrequency(points, m int) float64 {
	n, f := float64(points), float64(m)
	return (3*(n-1)/(2*f) - 2*(n-2)/n) * 4 * f * f / (4*f*f + 5)
}

func deviationLimits(value, freedom, confidence float64) (low, high float64) {
	if !(freedom >= 1) {
		return 0, 0
	}
	chi := distuv.ChiSquared{K: freedom}
	return value * math.Sqrt(freedom/chi.Quantile((1+confidence)/2)), value * math.Sqrt(freedom/chi.Quantile((1-confidence)/2))
}

func noTerm(phase []float64, m int) error {
	return fmt.Errorf("%w: no term of %d phase points for averages of %d", ErrRange, len(phase), m)
}

func checkPhase(phase []float64, tau0 float64, m int) error {
	if !(tau0 > 0) || math.IsInf(tau0, 1) {
		return fmt.Errorf("%w: spacing of phase points %v", ErrRange, tau0)
	}
	if m < 1 || m > len(phase) {
		return fmt.Errorf("%w: averages of %d for %d phase points", ErrRange, m, len(phase))
	}
	for i, x := range phase {
		if math.IsInf(x, 0) {
			return fmt.Errorf("%w: phase point %d is %v", ErrRange, i, x)
		}
	}
	return nil
}
