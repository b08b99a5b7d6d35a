package plot

import (
	"time"

	"gonum.org/v1/plot"
)

// A calendarStep is a distance of ticks on an axis of dates, in minutes, days or
// months, and how its ticks are written.
type calendarStep struct {
	minutes, days, months int
	layout                string
}

var calendarSteps = []calendarStep{
	{minutes: 15, layout: "15:04"}, {minutes: 30, layout: "15:04"}, {minutes: 60, layout: "15:04"}, {minutes: 180, layout: "15:04"}, {minutes: 360, layout: "15:04"},
	{days: 1, layout: "2 Jan"}, {days: 2, layout: "2 Jan"}, {days: 5, layout: "2 Jan"}, {days: 10, layout: "2 Jan"},
	{months: 1, layout: "Jan 06"}, {months: 2, layout: "Jan 06"}, {months: 3, layout: "Jan 06"}, {months: 6, layout: "Jan 06"},
	{months: 12, layout: "2006"}, {months: 24, layout: "2006"}, {months: 60, layout: "2006"}, {months: 120, layout: "2006"}, {months: 600, layout: "2006"}, {months: 1200, layout: "2006"},
}

// calendar gives ticks at whole minutes, days or months of UTC: the finest step
// with at most most of them.
func calendar(from, to time.Time, most int) []plot.Tick {
	from, to = from.UTC(), to.UTC()
	for _, s := range calendarSteps {
		var out []plot.Tick
		for t := s.start(from); !t.After(to) && len(out) <= most; t = s.next(t) {
			if !t.Before(from) {
				out = append(out, plot.Tick{Value: seconds(t), Label: t.Format(s.layout)})
			}
		}
		if len(out) <= most {
			return out
		}
	}
	return nil
}

// start is the last tick at or before a time.
func (s calendarStep) start(t time.Time) time.Time {
	switch {
	case s.minutes > 0:
		return t.Truncate(time.Duration(s.minutes) * time.Minute)
	case s.days > 0:
		day := (t.Day() - 1) / s.days * s.days
		return time.Date(t.Year(), t.Month(), 1+day, 0, 0, 0, 0, time.UTC)
	}
	m := t.Year()*12 + int(t.Month()) - 1
	m -= m % s.months
	return time.Date(m/12, time.Month(m%12+1), 1, 0, 0, 0, 0, time.UTC)
}

// next is the tick after a tick. Steps of days begin anew with each month, and
// leave out the last day when the first is next to it.
func (s calendarStep) next(t time.Time) time.Time {
	switch {
	case s.minutes > 0:
		return t.Add(time.Duration(s.minutes) * time.Minute)
	case s.days > 0:
		n := t.AddDate(0, 0, s.days)
		first := time.Date(t.Year(), t.Month()+1, 1, 0, 0, 0, 0, time.UTC)
		if s.days == 1 && n.Before(first) || s.days > 1 && first.Sub(n) > time.Duration(s.days-1)*12*time.Hour {
			return n
		}
		return first
	}
	return t.AddDate(0, s.months, 0)
}

// between names the days that an axis covers.
func between(from, to time.Time) string {
	const day = "2 January 2006"
	a, b := from.UTC().Format(day), to.UTC().Format(day)
	if a == b {
		return a + ", UTC"
	}
	return a + " to " + b + ", UTC"
}
