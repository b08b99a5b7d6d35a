package reports

import (
	"fmt"
	"html/template"

	"latchproof/reports/plot"
)

// Bounds of what is shown of the reads' timing.
const (
	maxTimed     = 6   // repeats with plots
	maxTimedRows = 200 // rows of the table
)

// readTimingView is when the console read its controller, over all repeats.
type readTimingView struct {
	Of       string // as specView.Of
	Shown    []timedView
	Rows     []timedRow
	RowsLeft int
	Left     int  // repeats with anomalies of the board that have no plot
	Service  bool // the board tells how long it takes
	Calm     bool // no repeat has an anomaly of the board
}

// timedView is one repeat with its plots.
type timedView struct {
	ID             string
	Name           name
	Sentences      []string
	Spacing, Allan template.HTML
	NoSpacing      bool
	NoAllan        bool
}

type timedRow struct {
	R       ReadTiming
	Name    name
	Service bool
	Odd     bool // it has an anomaly of the board
}

func buildReadTiming(spec int, all []ReadTiming) *readTimingView {
	if len(all) == 0 {
		return nil
	}
	v := &readTimingView{Calm: true}
	for i, r := range all {
		odd := r.Board
		v.Calm = v.Calm && !odd
		if i == 0 || odd {
			if len(v.Shown) < maxTimed {
				v.Shown = append(v.Shown, buildTimed(fmt.Sprintf("s%d-r%d", spec, i+1), r))
			} else {
				v.Left++
			}
		}
		row := timedRow{R: r, Name: named(r.Repeat, longName), Service: r.ServiceWorstUS > 0 || r.ServiceMedianUS > 0, Odd: odd}
		v.Service = v.Service || row.Service
		if len(v.Rows) < maxTimedRows {
			v.Rows = append(v.Rows, row)
		} else {
			v.RowsLeft++
		}
	}
	return v
}

func buildTimed(id string, r ReadTiming) timedView {
	v := timedView{ID: id, Name: named(r.Repeat, longName), Sentences: r.Sentences}
	var bins []plot.Bin
	for _, b := range r.Bins {
		bins = append(bins, plot.Bin(b))
	}
	svg, err := plot.Spacing(plot.Caption{
		ID: id + "-s", Title: "Read spacing of " + v.Name.Short,
		Desc: fmt.Sprintf("A histogram of how far apart the %s reads are, in microseconds from a whole frame. Jitter %s microseconds RMS, at most %s.", count(r.Reads), decimal(r.JitterUS, 1), decimal(r.PeakUS, 1)),
	}, bins)
	v.Spacing, v.NoSpacing = template.HTML(svg), err != nil // made by package plot, which escapes its texts
	svg, err = plot.Allan(plot.Caption{
		ID: id + "-a", Title: "Clock stability of " + v.Name.Short,
		Desc: "Allan deviation, and below it time deviation, against averaging time, on logarithmic axes." + longest(r.Allan),
	}, stability(r.Allan), stability(r.TDEV))
	v.Allan, v.NoAllan = template.HTML(svg), err != nil
	return v
}

// longest says in words what the last point of a deviation is.
func longest(ps []StabilityPoint) string {
	if len(ps) == 0 {
		return ""
	}
	p := ps[len(ps)-1]
	return fmt.Sprintf(" At %.3g seconds the Allan deviation is %.2g.", p.TauS, p.Value)
}

func stability(ps []StabilityPoint) (out []plot.Point) {
	for _, p := range ps {
		out = append(out, plot.Point{TauS: p.TauS, Value: p.Value, Low: p.Low, High: p.High})
	}
	return out
}
