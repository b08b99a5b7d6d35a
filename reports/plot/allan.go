package plot

import (
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
)

// Size of one panel of a stability plot, in units.
const (
	allanWide = 480
	allanHigh = 232
)

// maxPoints is how many points of a deviation are drawn at most, the first
// ones. At octaves, 64 averaging times would need 2^64 reads.
const maxPoints = 64

// A Point is a deviation at an averaging time in seconds, with its limits; Low
// is 0 where there are none.
type Point struct{ TauS, Value, Low, High float64 }

func (p Point) limits() bool {
	return p.Low > 0 && p.Low <= p.Value && p.Value <= p.High && !math.IsInf(p.High, 0)
}

// Allan draws Allan deviation (a ratio) above time deviation (in seconds, drawn
// in microseconds) against averaging time, all axes logarithmic, with the
// limits as upright lines. Points without a place on such axes are left out, and
// a panel without points.
func Allan(l Caption, adev, tdev []Point) (string, error) {
	a, t := placed(adev, 1), placed(tdev, 1e6)
	if len(a)+len(t) == 0 {
		return "", ErrNothing
	}
	low, high := math.Inf(1), 0.0
	for _, p := range append(append([]Point{}, a...), t...) {
		low, high = min(low, p.TauS), max(high, p.TauS)
	}
	low, high = roomy(low, high)
	var panels []panel
	if len(a) > 0 {
		panels = append(panels, deviation(a, low, high, "Allan deviation", "averaging time, s", powered, roleLineA, roleEdgeA, roleDotA))
	}
	if len(t) > 0 {
		panels = append(panels, deviation(t, low, high, "time deviation, µs", "averaging time, s", written, roleLineB, roleEdgeB, roleDotB))
	}
	return render(l, allanWide, float64(allanHigh*len(panels)), panels...)
}

func placed(ps []Point, by float64) (out []Point) {
	for _, p := range ps {
		p.Value, p.Low, p.High = p.Value*by, p.Low*by, p.High*by
		if p.TauS > 0 && p.Value > 0 && !math.IsInf(p.TauS, 0) && !math.IsInf(p.Value, 0) && len(out) < maxPoints {
			out = append(out, p)
		}
	}
	return out
}

// roomy widens a range so that no point lies on an axis and there is at least
// half a decade.
func roomy(low, high float64) (float64, float64) {
	for high/low < 3 {
		low, high = low/1.3, high*1.3
	}
	return low / 1.3, high * 1.3
}

func deviation(ps []Point, xLow, xHigh float64, name, xName string, label func(digit, power int) string, line, edge, dot role) panel {
	low, high := math.Inf(1), 0.0
	var at plotter.XYs
	for _, p := range ps {
		at = append(at, plotter.XY{X: p.TauS, Y: p.Value})
		low, high = min(low, p.Value), max(high, p.Value)
		if p.limits() {
			low, high = min(low, p.Low), max(high, p.High)
		}
	}
	low, high = roomy(low, high)
	a := axes(xLow, xHigh, low, high, xName, name, decades(xLow, xHigh, written), decades(low, high, label), true)
	a.plot.X.Scale, a.plot.Y.Scale = plot.LogScale{}, plot.LogScale{}
	for _, p := range ps {
		if p.limits() {
			a.plot.Add(&plotter.Line{XYs: plotter.XYs{{X: p.TauS, Y: p.Low}, {X: p.TauS, Y: p.High}}, LineStyle: stroke(edge)})
		}
	}
	a.plot.Add(&plotter.Line{XYs: at, LineStyle: stroke(line)}, dots{at, dot, dot == roleDotB})
	return a
}
