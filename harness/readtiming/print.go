package readtiming

import (
	"fmt"
	"io"
	"strings"
)

// How many rows a printed histogram has at most, and how wide its bars are.
const (
	printRows = 15
	printBar  = 40
)

// Print writes the study as text.
func (s Study) Print(w io.Writer) {
	fmt.Fprintf(w, "  %s", some(int(s.Reads), "read"))
	if s.Untold != "" {
		fmt.Fprintf(w, "; nothing can be said of rate and jitter: %s\n", s.Untold)
	} else {
		by := "the host's clock"
		if s.MeasuredBy == ByBoard {
			by = "the board's own clock, whose error is in it"
		}
		fmt.Fprintf(w, " in %s\n", some(int(s.Frames), "frame"))
		fmt.Fprintf(w, "  rate     %+.2f ppm from nominal, give or take %.2f, by %s (%.4f us a frame, nominal %.4f)\n", s.PPM, s.HalfPPM, by, s.PeriodUS, s.NominalPeriodUS)
		fmt.Fprintf(w, "  jitter   RMS %.1f us, peak %.1f us\n", s.JitterRMSUS, s.JitterPeakUS)
		s.Spacing.print(w)
		s.printStability(w)
	}
	if v := s.Service; v != nil {
		more := ""
		if v.OrMore {
			more = " or more"
		}
		fmt.Fprintf(w, "  service  median %.2f us, 95 %% within %.2f, 99 %% within %.2f, worst %.2f%s (%s)\n", v.MedianUS, v.P95US, v.P99US, v.WorstUS, more, some(int(v.Records), "latch pulse"))
	} else {
		fmt.Fprintln(w, "  service  not told by the board")
	}
	if n := len(s.DoubleReads); n > 0 {
		fmt.Fprintf(w, "  %s of several latch pulses\n", some(n, "read"))
	}
	for _, a := range s.Anomalies {
		fmt.Fprintf(w, "  %s\n", a.Text)
	}
}

// print writes quantiles and a histogram.
func (s Spacing) print(w io.Writer) {
	if s.Count == 0 {
		return
	}
	q := s.Quantiles
	fmt.Fprintf(w, "  spacing  less the period, us: min %.1f, 5 %% %.1f, median %.1f, 95 %% %.1f, max %.1f\n", q.MinUS, q.P5US, q.MedianUS, q.P95US, q.MaxUS)
	join := (len(s.Bins) + printRows - 1) / printRows
	var rows []Bin
	most := int64(1)
	for i, b := range s.Bins {
		if i%join == 0 {
			rows = append(rows, Bin{FromUS: b.FromUS})
		}
		r := &rows[len(rows)-1]
		r.ToUS, r.Count = b.ToUS, r.Count+b.Count
		most = max(most, r.Count)
	}
	for _, r := range rows {
		bar := strings.Repeat("#", int((r.Count*printBar+most-1)/most)) // one mark at least where there is any
		fmt.Fprintln(w, strings.TrimRight(fmt.Sprintf("    %7.0f to %5.0f %7d %s", r.FromUS, r.ToUS, r.Count, bar), " "))
	}
	if s.Below+s.Above > 0 {
		fmt.Fprintf(w, "    farther out: %d below, %d above\n", s.Below, s.Above)
	}
}
