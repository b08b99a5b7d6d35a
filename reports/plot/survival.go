package plot

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/plot/plotter"
)

// Size of a survival curve, in units.
const (
	survivalWide = 560
	survivalHigh = 280
)

// maxSteps is from how many steps on a curve is thinned.
const maxSteps = 160

// A Curve is the share of repeats still in lockstep against frames.
type Curve struct{ Steps []Step }

// A Step is what holds from a frame on: the share still in lockstep, its limits
// (High below Low, or both 0 while the share is not: there are none), and how
// many repeats were cut short there.
type Step struct {
	Frame            float64
	Share, Low, High float64
	Cut              int64
}

func (s Step) drawn() bool {
	return s.Frame >= 0 && !math.IsInf(s.Frame, 0) && s.Share >= 0 && s.Share <= 1
}

func (s Step) limits() bool {
	return s.Low >= 0 && s.High <= 1 && s.Low <= s.High && (s.High > 0 || s.Share == 0)
}

// Survival draws how long repeats stay in lockstep: curves with their bands and
// a tick where a repeat was cut short. candidate may be nil; both curves are
// told apart by their dash and their class. Every curve begins at 1 at frame 0.
// Up to its first step the band has that step's lower limit and reaches to 1: a
// share that only falls was no lower before, so those limits hold there too; a
// step at frame 0 gives narrower ones.
//
// The upright axis begins at 0, or at a higher share when all that is drawn is
// well above it; then its name says so.
func Survival(l Caption, baseline Curve, candidate *Curve) (string, error) {
	curves := []Curve{baseline}
	if candidate != nil {
		curves = append(curves, *candidate)
	}
	end, low, any := 1.0, 1.0, false
	for i, c := range curves {
		steps := make([]Step, 0, len(c.Steps)+1)
		for _, s := range c.Steps {
			if !s.drawn() {
				continue
			}
			any = true
			end, low = max(end, s.Frame), min(low, s.Share)
			if s.limits() {
				low = min(low, s.Low)
			}
			steps = append(steps, s)
		}
		slices.SortStableFunc(steps, func(a, b Step) int { return cmp.Compare(a.Frame, b.Frame) })
		curves[i] = Curve{steps}
	}
	if !any {
		return "", ErrNothing
	}
	floor, name := 0.0, "still in lockstep"
	for _, f := range []float64{0.5, 0.8, 0.9, 0.95, 0.98, 0.99, 0.995, 0.998, 0.999} {
		if low > f+(1-f)/10 {
			floor = f
		}
	}
	if floor > 0 {
		name += " (the axis begins at " + share(floor, 1-floor) + ")"
	}
	a := axes(0, end, floor, 1, "frame", name, even(0, end, 6, whole), even(floor, 1, 6, share), false)
	roles := [2][4]role{{roleBandA, roleEdgeA, roleLineA, roleCutA}, {roleBandB, roleEdgeB, roleLineB, roleCutB}}
	for i, c := range curves {
		a.bands(c.Steps, end, roles[i][0], roles[i][1])
	}
	for i, c := range curves {
		if len(c.Steps) == 0 {
			continue
		}
		line := plotter.XYs{{X: 0, Y: 1}}
		var cut plotter.XYs
		for _, s := range thinned(c.Steps, end) {
			line = append(line, plotter.XY{X: s.Frame, Y: s.Share})
			if s.Cut > 0 {
				cut = append(cut, plotter.XY{X: s.Frame, Y: s.Share})
			}
		}
		a.plot.Add(&plotter.Line{XYs: line, StepStyle: plotter.PostStep, LineStyle: stroke(roles[i][2])}, marks{cut, roles[i][3], 14})
	}
	return render(l, survivalWide, survivalHigh, a)
}

// thinned keeps the last step of each of maxSteps stretches of the axis, and in
// it how many were cut in the whole of it.
func thinned(steps []Step, end float64) []Step {
	if len(steps) <= maxSteps {
		return steps
	}
	var out []Step
	last := -1
	for _, s := range steps {
		at := int(min(s.Frame/end*maxSteps, maxSteps-1))
		if at == last {
			s.Cut += out[len(out)-1].Cut
			out[len(out)-1] = s
			continue
		}
		out, last = append(out, s), at
	}
	return out
}

// bands adds the area between the limits, one for each stretch that has them.
func (a panel) bands(all []Step, end float64, fill, edge role) {
	steps := thinned(all, end)
	for i := 0; i < len(steps); {
		if !steps[i].limits() {
			i++
			continue
		}
		var low, high plotter.XYs
		add := func(x float64, l, h float64) {
			if n := len(low); n > 0 {
				low, high = append(low, plotter.XY{X: x, Y: low[n-1].Y}), append(high, plotter.XY{X: x, Y: high[n-1].Y})
			}
			low, high = append(low, plotter.XY{X: x, Y: l}), append(high, plotter.XY{X: x, Y: h})
		}
		if i == 0 && steps[0].Frame > 0 {
			add(0, steps[0].Low, 1)
		}
		j := i
		for ; j < len(steps) && steps[j].limits(); j++ {
			add(steps[j].Frame, steps[j].Low, steps[j].High)
		}
		if j < len(steps) { // it holds until the next step
			add(steps[j].Frame, steps[j-1].Low, steps[j-1].High)
		}
		ring := append(plotter.XYs{}, low...)
		for k := len(high) - 1; k >= 0; k-- {
			ring = append(ring, high[k])
		}
		a.plot.Add(&plotter.Polygon{XYs: []plotter.XYs{ring}, Color: fill.line()},
			&plotter.Line{XYs: low, LineStyle: stroke(edge)}, &plotter.Line{XYs: high, LineStyle: stroke(edge)})
		i = j
	}
}
