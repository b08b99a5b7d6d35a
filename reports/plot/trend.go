package plot

import (
	"cmp"
	"math"
	"slices"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Styles is how many looks a series of a trend can have: 1 to 4 are told apart
// by shape, dash and class; 0 is for all others together, small crosses without
// a line.
const Styles = 5

// Size of a trend, in units.
const (
	trendWide = 560
	trendHigh = 250
)

// maxTrend is how many points a trend draws at most, over all series.
const maxTrend = 240

// A TrendPoint is a value at a time with what it reaches over: limits of a
// confidence interval, or the least and the most. Low above High says that there
// are none.
type TrendPoint struct {
	Time             time.Time
	Value, Low, High float64
}

func (p TrendPoint) drawn() bool {
	return !p.Time.IsZero() && !math.IsNaN(p.Value) && !math.IsInf(p.Value, 0)
}

func (p TrendPoint) reaches() bool {
	return p.Low <= p.High && !math.IsInf(p.Low, 0) && !math.IsInf(p.High, 0)
}

// A TrendSeries is points of one look, 0 to Styles-1, in any order.
type TrendSeries struct {
	Style  int
	Points []TrendPoint
}

// A Scale is the upright axis of a trend.
type Scale struct {
	Name string
	// Share: the values are shares, and the axis goes from 0 to 1. Otherwise it
	// begins at 0, unless there are values below it or Free is set.
	Share bool
	Free  bool
	// HighIsBad says which points are kept where there are too many.
	HighIsBad bool
}

// Trend draws values over dates, in UTC, and gives how many points it left out.
// With more than 240 points, those of each series are drawn in as many equal
// stretches of time as keep to that: of each stretch the worst and the latest.
// The drawing stays under 30 kB.
func Trend(l Caption, s Scale, series []TrendSeries) (svg string, left int, err error) {
	var from, to time.Time
	low, high, n := math.Inf(1), math.Inf(-1), 0
	all := make([]TrendSeries, 0, len(series))
	for _, one := range series {
		kept := TrendSeries{Style: min(max(one.Style, 0), Styles-1)}
		for _, p := range one.Points {
			if !p.drawn() {
				continue
			}
			if n == 0 || p.Time.Before(from) {
				from = p.Time
			}
			if n == 0 || p.Time.After(to) {
				to = p.Time
			}
			n++
			low, high = min(low, p.Value), max(high, p.Value)
			if p.reaches() {
				low, high = min(low, p.Low), max(high, p.High)
			}
			kept.Points = append(kept.Points, p)
		}
		slices.SortStableFunc(kept.Points, func(a, b TrendPoint) int { return a.Time.Compare(b.Time) })
		all = append(all, kept)
	}
	if n == 0 {
		return "", 0, ErrNothing
	}
	yMin, yMax, label := s.bounds(low, high)
	top := yMax
	if s.Share {
		top = 1
	}
	if span := to.Sub(from); span < time.Hour {
		from, to = from.Add(-(time.Hour-span)/2), to.Add((time.Hour-span)/2)
	}
	edge := to.Sub(from) / 40 // room for the marks at both ends
	a := axes(seconds(from.Add(-edge)), seconds(to.Add(edge)), yMin, yMax, between(from, to), s.Name,
		calendar(from, to, 5), even(yMin, top, 6, label), false)
	// What is drawn last is on top: the first style.
	slices.SortStableFunc(all, func(a, b TrendSeries) int { return cmp.Compare(rank(b.Style), rank(a.Style)) })
	for _, one := range all {
		points := one.Points
		if n > maxTrend {
			points = s.fewer(points, from, to, max(maxTrend/2/len(all), 1))
		}
		left += len(one.Points) - len(points)
		a.plot.Add(trend{one.Style, points})
	}
	svg, err = render(l, trendWide, trendHigh, a)
	return svg, left, err
}

// rank orders styles from front to back.
func rank(style int) int { return (style + Styles - 1) % Styles }

func (s Scale) bounds(low, high float64) (from, to float64, label func(v, step float64) string) {
	if s.Share {
		return 0, 1.03, share // room for marks at 1
	}
	if low >= 0 && !s.Free {
		low = 0
	}
	if !(high-low > math.Abs(high)*1e-9) { // all the same
		low, high = low-1, high+1
	}
	pad := (high - low) * 0.06
	if low != 0 || s.Free {
		low -= pad
	}
	return low, high + pad, number
}

// fewer keeps the worst and the latest point of each of n equal stretches.
func (s Scale) fewer(points []TrendPoint, from, to time.Time, n int) []TrendPoint {
	var out []TrendPoint
	for i := 0; i < len(points); {
		at := stretch(points[i].Time, from, to, n)
		worst, j := i, i
		for ; j < len(points) && stretch(points[j].Time, from, to, n) == at; j++ {
			if v, w := points[j].Value, points[worst].Value; s.HighIsBad && v >= w || !s.HighIsBad && v <= w {
				worst = j
			}
		}
		out = append(out, points[worst])
		if worst != j-1 {
			out = append(out, points[j-1])
		}
		i = j
	}
	return out
}

func stretch(t, from, to time.Time, n int) int {
	return min(int(float64(n)*(seconds(t)-seconds(from))/max(seconds(to)-seconds(from), 1)), n-1)
}

func seconds(t time.Time) float64 { return float64(t.UnixMilli()) / 1e3 }

// trend draws one series: its line, what its points reach over, and their marks.
type trend struct {
	style  int
	points []TrendPoint
}

func (t trend) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	var line plotter.XYs
	at := make([]vg.Point, len(t.points))
	for i, o := range t.points {
		at[i] = vg.Point{X: x(seconds(o.Time)), Y: y(o.Value)}
		line = append(line, plotter.XY{X: seconds(o.Time), Y: o.Value})
	}
	first := roleTrend + role(3*(t.style-1))
	lineRole, reach, mark := first, first+1, first+2
	if t.style == 0 {
		reach, mark = roles-2, roles-1
	} else if len(line) > 1 {
		(&plotter.Line{XYs: line, LineStyle: stroke(lineRole)}).Plot(c, p)
	}
	for i, o := range t.points {
		if o.reaches() {
			c.StrokeLine2(stroke(reach), at[i].X, y(o.Low), at[i].X, y(o.High))
		}
	}
	for _, o := range at {
		if t.style == 0 {
			c.StrokeLine2(stroke(mark), o.X-3, o.Y-3, o.X+3, o.Y+3)
			c.StrokeLine2(stroke(mark), o.X-3, o.Y+3, o.X+3, o.Y-3)
			continue
		}
		var ring []vg.Point
		for _, d := range outlines[t.style-1] {
			ring = append(ring, vg.Point{X: o.X + vg.Length(d[0]), Y: o.Y + vg.Length(d[1])})
		}
		c.FillPolygon(mark.line(), ring)
	}
}

// outlines are the marks of the styles 1 to 4: a square, a diamond, a triangle
// and an upright bar.
var outlines = [Styles - 1][][2]float64{
	{{-4, -4}, {4, -4}, {4, 4}, {-4, 4}},
	{{-5.5, 0}, {0, -5.5}, {5.5, 0}, {0, 5.5}},
	{{-5.5, -4.5}, {5.5, -4.5}, {0, 5.5}},
	{{-2.2, -6.5}, {2.2, -6.5}, {2.2, 6.5}, {-2.2, 6.5}},
}

// TrendClasses are the classes of a trend that a style sheet must have a rule
// for.
func TrendClasses() []string {
	out := []string{"plot", classes[roleNum], classes[roleName], classes[roleAxis], classes[roleGrid]}
	return append(out, classes[roleTrend:]...)
}
