package stats

import (
	"fmt"
	"math"
)

// Band is a simultaneous confidence band: one interval for each of the Steps
// with from <= Time <= to, in their order, that together hold the true
// survival at the times of all these steps with the confidence given. As the
// true curve never rises, the band holds between the steps as well: there it
// goes from Low of the next step to High of the step before, and after the
// last one from 0. (LogLog and Exact are pointwise: of many at once some are
// expected to miss.)
//
// It is the linear band of W. J. Hall and J. A. Wellner (Biometrika
// 67:133-143, 1980), S ± k(a, b) S (1+nσ²)/√n, kept to 0..1, with n lives and
// σ² = Σ d/(Y(Y-d)) as in KaplanMeier; k(a, b) is the critical value of a
// Brownian bridge between a and b, nσ²/(1+nσ²) at the first and at the last
// of these steps. Without censoring, and from the start to the end, it is
// Kolmogorov's S ± 1.3581/√n at 95 %. from and to may be infinite.
//
// That band rests on many events and on lives still at risk. So each interval
// is widened to take in the exact pointwise one at the same confidence: that
// changes little where there are many events, and much where there are few.
// Where the last life ended in an event, and the estimate is 0, Hall and
// Wellner say nothing: Low is 0, and High is no less than that of the step
// before. Without any event the only step is the last time, and its interval
// is the exact one. No steps in the range give no intervals and no error. In
// simulations with 2, 10 and 41 events on average a band at 95 % held in 100,
// 99.8 and 97.8 % of samples (coverage_test.go); not widened, in 91.5, 93.9 and
// 97.8 %.
//
// It is an error (ErrRange) when confidence is not inside 0..1, from or to is
// no number, or from is above to.
func (c Curve) Band(confidence, from, to float64) ([]Interval, error) {
	if err := checkConfidence(confidence); err != nil {
		return nil, err
	}
	if !(from <= to) {
		return nil, fmt.Errorf("%w: band from %v to %v", ErrRange, from, to)
	}
	n := float64(c.N)
	var out []Interval
	var inside []Step
	var spans []float64 // nσ² of the steps inside
	var fit product
	greenwood := 0.0
	for _, s := range c.Steps {
		alive := s.AtRisk - s.Events
		if s.Events > 0 {
			greenwood += float64(s.Events) / (float64(s.AtRisk) * float64(alive))
			fit.times(float64(alive)+1, float64(s.Events))
		}
		if from <= s.Time && s.Time <= to {
			out = append(out, fit.interval(alive, confidence))
			inside = append(inside, s)
			spans = append(spans, n*greenwood)
		}
	}
	first, last := -1, -1
	for i, s := range inside {
		if s.Survival > 0 && s.Survival < 1 {
			if first < 0 {
				first = i
			}
			last = i
		}
	}
	if first < 0 {
		return out, nil
	}
	k := bridgeCritical(confidence, spans[first]/(1+spans[first]), spans[last]/(1+spans[last]))
	for i, s := range inside {
		iv := &out[i]
		if i > last {
			iv.High = max(iv.High, out[i-1].High)
			continue
		}
		half := k * s.Survival * (1 + spans[i]) / math.Sqrt(n)
		iv.Low = min(iv.Low, max(0, s.Survival-half))
		iv.High = max(iv.High, min(1, s.Survival+half))
	}
	return out, nil
}
