package plot

import (
	"bytes"
	"errors"
	"fmt"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"
)

// ErrNothing says that the numbers hold nothing that can be drawn.
var ErrNothing = errors.New("plot: nothing to draw")

// Margins of a panel, in units: above for what the upright axis is, below for
// what the other one is, right for half of the last number.
const (
	marginTop    = letter + 10
	marginBottom = letter + 6
	marginRight  = 6
)

// A panel is one pair of axes with its curves.
type panel struct {
	plot  *plot.Plot
	xName string // what the axes are, written below and above: the library's own
	yName string // place for it goes wrong on a logarithmic axis
}

// axes gives empty axes of a range, with their ticks and a grid.
func axes(xMin, xMax, yMin, yMax float64, xName, yName string, xTicks, yTicks []plot.Tick, grid bool) panel {
	p := plot.New()
	p.TextHandler, p.BackgroundColor = writer{}, nil
	p.Title.TextStyle.Handler = writer{}
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = xMin, xMax, yMin, yMax
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Padding = 0
		a.LineStyle = stroke(roleAxis)
		a.Tick.LineStyle = stroke(roleAxis)
		a.Tick.Length = 5
		a.Label.TextStyle = style(roleNum, draw.XCenter, draw.YBottom)
	}
	p.X.Tick.Label = style(roleNum, draw.XCenter, draw.YTop)
	p.Y.Tick.Label = style(roleNum, draw.XRight, draw.YCenter)
	p.X.Tick.Marker, p.Y.Tick.Marker = plot.ConstantTicks(xTicks), plot.ConstantTicks(yTicks)
	g := plotter.NewGrid()
	g.Horizontal = stroke(roleGrid)
	g.Vertical.Color = nil
	if grid {
		g.Vertical = stroke(roleGrid)
	}
	p.Add(g)
	return panel{p, xName, yName}
}

// stroke is a line of a role. Its width is the page's matter; the library only
// needs one above zero to draw it.
func stroke(r role) draw.LineStyle { return draw.LineStyle{Color: r.line(), Width: 1} }

// render draws panels one above the other on w by h units.
func render(l Caption, w, h float64, panels ...panel) (string, error) {
	c := vgsvg.New(vg.Length(w), vg.Length(h))
	all := draw.New(c)
	rows := make([][]*plot.Plot, len(panels))
	for i, p := range panels {
		rows[i] = []*plot.Plot{p.plot}
	}
	tiles := draw.Tiles{Rows: len(panels), Cols: 1, PadTop: marginTop, PadBottom: marginBottom, PadRight: marginRight, PadY: marginTop + marginBottom}
	for i, row := range plot.Align(rows, tiles, all) {
		at := row[0]
		all.FillText(style(roleName, draw.XLeft, draw.YBottom), vg.Point{X: 0, Y: at.Max.Y + 8}, panels[i].yName)
		data := panels[i].plot.DataCanvas(at)
		all.FillText(style(roleName, draw.XCenter, draw.YBottom), vg.Point{X: data.Center().X, Y: at.Min.Y - marginBottom}, panels[i].xName)
		panels[i].plot.Draw(at)
	}
	var b bytes.Buffer
	if _, err := c.WriteTo(&b); err != nil {
		return "", fmt.Errorf("plot: %w", err)
	}
	return rewrite(b.Bytes(), l, w, h)
}

// marks draws short upright lines through points, as high as high units.
type marks struct {
	at   plotter.XYs
	role role
	high font.Length
}

func (m marks) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	for _, at := range m.at {
		px, py := x(at.X), y(at.Y)
		c.StrokeLine2(stroke(m.role), px, py-m.high/2, px, py+m.high/2)
	}
}

// dots draws a filled shape on points: a square, or a diamond.
type dots struct {
	at      plotter.XYs
	role    role
	diamond bool
}

func (d dots) Plot(c draw.Canvas, p *plot.Plot) {
	const r = 4
	x, y := p.Transforms(&c)
	for _, at := range d.at {
		px, py := x(at.X), y(at.Y)
		ps := []vg.Point{{X: px - r, Y: py - r}, {X: px + r, Y: py - r}, {X: px + r, Y: py + r}, {X: px - r, Y: py + r}}
		if d.diamond {
			ps = []vg.Point{{X: px - r - 1, Y: py}, {X: px, Y: py - r - 1}, {X: px + r + 1, Y: py}, {X: px, Y: py + r + 1}}
		}
		c.FillPolygon(d.role.line(), ps)
	}
}
