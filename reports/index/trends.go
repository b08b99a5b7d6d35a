package index

import (
	"errors"
	"fmt"
	"html/template"
	"slices"

	"latchproof/reports"
	"latchproof/reports/plot"
)

// maxTrends is how many specs have a trend.
const maxTrends = 12

// trendView is a trend with what is said beside it.
type trendView struct {
	Name string
	SVG  template.HTML
	Say  string // the latest value in words
	Note string // what the drawing leaves out
}

// collect gathers one spread of each dated session by the look of its
// configuration. The latest is the first that there is.
func collect(x Index, of func(Session) *Spread) (series []plot.TrendSeries, latest, before *Spread, n int) {
	var points [plot.Styles][]plot.TrendPoint
	for _, s := range x.Sessions {
		v := of(s)
		if v == nil || !s.Dated {
			continue
		}
		n++
		switch {
		case latest == nil:
			latest = v
		case before == nil:
			before = v
		}
		k := styleOf(s.Configuration)
		points[k] = append(points[k], plot.TrendPoint{Time: s.Made, Value: v.Value, Low: v.Low, High: v.High})
	}
	for k, ps := range points {
		if len(ps) > 0 {
			series = append(series, plot.TrendSeries{Style: k, Points: ps})
		}
	}
	return series, latest, before, n
}

func trendOf(c plot.Caption, s plot.Scale, series []plot.TrendSeries) (trendView, error) {
	svg, left, err := plot.Trend(c, s, series)
	if errors.Is(err, plot.ErrNothing) {
		return trendView{}, nil
	}
	v := trendView{SVG: template.HTML(svg)} // made by package plot, which escapes its texts
	if left > 0 {
		v.Note = reports.Plural(left, "point is", "points are") + " not drawn: of each stretch of time the worst and the latest stand."
	}
	return v, err
}

// specTrends are the lockstep rates of the specs, those last played first.
func specTrends(x Index) (out []trendView, left int, err error) {
	rated := map[string]bool{}
	for _, s := range x.Sessions {
		for _, sp := range s.Specs {
			if sp.Rate != nil && s.Dated {
				rated[sp.Name] = true
			}
		}
	}
	for i, name := range specNames(x) {
		if !rated[name] {
			continue
		}
		if len(out) == maxTrends {
			left++
			continue
		}
		programs := map[string]bool{}
		series, latest, _, n := collect(x, func(s Session) *Spread {
			k := slices.IndexFunc(s.Specs, func(sp Spec) bool { return sp.Name == name && sp.Rate != nil })
			if k < 0 {
				return nil
			}
			if h := s.Specs[k].ProgramHash; h != "" {
				programs[h] = true
			}
			return s.Specs[k].Rate
		})
		say := fmt.Sprintf("%s. Latest rate %s", reports.Plural(n, "session", "sessions"), reports.Percent(latest.Value, false))
		if latest.Low <= latest.High {
			say += fmt.Sprintf(", limits %s to %s", reports.Percent(latest.Low, false), reports.Percent(latest.High, true))
		}
		say += "."
		v, err := trendOf(plot.Caption{ID: fmt.Sprintf("spec-%d", i), Title: "Lockstep rate of " + specName(name), Desc: say},
			plot.Scale{Name: "in lockstep with the first repeat", Share: true}, series)
		if err != nil {
			return nil, 0, err
		}
		v.Name, v.Say = specName(name), say
		if len(programs) > 1 {
			v.Say += fmt.Sprintf(" Its program changed: there were %s.", reports.Count(len(programs)))
		}
		out = append(out, v)
	}
	return out, left, nil
}

// timingTrends are the trends of the timing of the reads.
func timingTrends(x Index) ([]trendView, error) {
	var out []trendView
	for _, t := range []struct {
		id, name, unit string
		scale          plot.Scale
		of             func(Session) *Spread
	}{
		{"jitter", "Read jitter", "µs", plot.Scale{Name: "jitter of the reads, µs RMS", HighIsBad: true}, func(s Session) *Spread { return s.JitterUS }},
		{"ppm", "Frame rate against nominal", "ppm", plot.Scale{Name: "frame rate, ppm from nominal", Free: true, HighIsBad: true}, func(s Session) *Spread { return s.PPM }},
		{"service", "Service latency", "µs", plot.Scale{Name: "from latch to first bit, µs", HighIsBad: true}, func(s Session) *Spread { return s.ServiceUS }},
	} {
		series, latest, before, n := collect(x, t.of)
		if n == 0 {
			continue
		}
		say := fmt.Sprintf("%s. Latest %s %s (%s to %s)", reports.Plural(n, "session", "sessions"), amount(latest.Value), t.unit, amount(latest.Low), amount(latest.High))
		if before != nil {
			say += fmt.Sprintf("; the session before it %s %s", amount(before.Value), t.unit)
		}
		say += "."
		v, err := trendOf(plot.Caption{ID: t.id, Title: t.name, Desc: say}, t.scale, series)
		if err != nil {
			return nil, err
		}
		v.Name, v.Say = t.name, say
		out = append(out, v)
	}
	return out, nil
}

func amount(f float64) string { return reports.Decimal(f, 2) }
