package stats

import "gonum.org/v1/gonum/stat/distuv"

func normalQuantile(p float64) float64 { return distuv.UnitNormal.Quantile(p) }

// normalAbove is the chance of a standard normal above z; it keeps its digits
// far out.
func normalAbove(z float64) float64 { return distuv.UnitNormal.CDF(-z) }
