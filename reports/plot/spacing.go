package plot

import (
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Size of a histogram, in units.
const (
	spacingWide = 480
	spacingHigh = 340
)

// maxBins is how many bars a histogram has at most.
const maxBins = 120

// lowestBar is the height of the lowest bar, in units: a bin that holds a
// single read among thousands must still be seen.
const lowestBar = 2

// A Bin is how many reads lie from one spacing up to another, in microseconds
// from a whole frame. Bins are in the order of their spacings.
type Bin struct {
	FromUS, ToUS float64
	Count        int64
}

// Spacing draws a histogram of read spacings. The height of a bar is the number
// of reads, however wide its bin. A bin that holds reads is at least 2 units
// high. The mark above the bars is a whole frame.
func Spacing(l Caption, bins []Bin) (string, error) {
	kept := make([]Bin, 0, len(bins))
	var most int64
	for _, b := range fewerBins(bins) {
		if b.FromUS < b.ToUS && b.Count > 0 && !math.IsInf(b.ToUS-b.FromUS, 0) {
			kept = append(kept, b)
			most = max(most, b.Count)
		}
	}
	if len(kept) == 0 {
		return "", ErrNothing
	}
	low, high := kept[0].FromUS, kept[0].ToUS
	for _, b := range kept {
		low, high = min(low, b.FromUS), max(high, b.ToUS)
	}
	low, high = min(low, 0), max(high, 0)
	top := float64(most) * 1.1
	a := axes(low, high, 0, top, "spacing, µs from a whole frame", "reads",
		even(low, high, 6, number), even(0, max(top, 2), 6, whole), false)
	a.plot.Add(bars(kept), mark{0, float64(most)})
	return render(l, spacingWide, spacingHigh, a)
}

// fewerBins puts neighbours together until there are at most maxBins.
func fewerBins(bins []Bin) []Bin {
	k := (len(bins) + maxBins - 1) / maxBins
	if k <= 1 {
		return bins
	}
	var out []Bin
	for i := 0; i < len(bins); i += k {
		group := bins[i:min(i+k, len(bins))]
		b := Bin{FromUS: group[0].FromUS, ToUS: group[len(group)-1].ToUS}
		for _, g := range group {
			b.Count += g.Count
		}
		out = append(out, b)
	}
	return out
}

type bars []Bin

func (bs bars) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	foot := y(0)
	for _, b := range bs {
		from, to, top := x(b.FromUS), x(b.ToUS), max(y(float64(b.Count)), foot+lowestBar)
		if to-from > 3 { // a gap between bars that are wide enough for it
			to -= 0.6
		}
		c.FillPolygon(roleBar.line(), []vg.Point{{X: from, Y: foot}, {X: from, Y: top}, {X: to, Y: top}, {X: to, Y: foot}})
	}
}

// mark draws a line above the tallest bar, so that it hides none.
type mark struct{ at, above float64 }

func (m mark) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	c.StrokeLine2(stroke(roleZero), x(m.at), y(m.above)+2, x(m.at), c.Max.Y)
}
