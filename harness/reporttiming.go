package harness

import (
	"errors"
	"fmt"

	"latchproof/harness/readtiming"
	"latchproof/harness/record"
	"latchproof/reports"
)

// readTimings are the studies of the runs' read logs for the report. A run that
// is not sealed or has no log is left out; one whose log tells nothing says why.
func readTimings(runs []*Run) ([]reports.ReadTiming, error) {
	var out []reports.ReadTiming
	for _, r := range runs {
		if r.State != record.Sealed || r.Dir == "" {
			continue
		}
		rec, err := record.OpenFiles(r.Dir, record.ReadsFile)
		if err != nil {
			return nil, err
		}
		s, err := readtiming.OfRun(rec)
		switch {
		case errors.Is(err, readtiming.ErrNoLog):
			continue
		case err != nil && s.Untold == "":
			return nil, fmt.Errorf("%s: reads: %w", r.Dir, err)
		}
		out = append(out, reportTiming(r.Name, s))
	}
	return out, nil
}

func reportTiming(name string, s readtiming.Study) reports.ReadTiming {
	out := reports.ReadTiming{
		Repeat: name, Reads: s.Reads, PPM: s.PPM, JitterUS: s.JitterRMSUS, PeakUS: s.JitterPeakUS,
		Board: s.Board(), LagFrames: len(s.LagFrames), DoubleReads: len(s.DoubleReads), ExtraClocks: len(s.OddClocks),
		Underruns: len(s.Underruns), LateServes: len(s.LateServes),
	}
	for _, g := range s.Lost {
		out.LostRecords += int(g.Len())
	}
	if s.Service != nil {
		out.ServiceMedianUS, out.ServiceWorstUS = s.Service.MedianUS, s.Service.WorstUS
	}
	for _, b := range s.Spacing.Bins {
		out.Bins = append(out.Bins, reports.Bin(b))
	}
	for _, p := range s.Allan {
		out.Allan = append(out.Allan, stabilityPoint(p))
	}
	for _, p := range s.TDEV {
		out.TDEV = append(out.TDEV, stabilityPoint(p))
	}
	if s.Untold != "" {
		out.Sentences = append(out.Sentences, "Of frames, rate and jitter nothing can be said: "+s.Untold)
	}
	for _, a := range s.Anomalies {
		out.Sentences = append(out.Sentences, a.Text)
	}
	return out
}

func stabilityPoint(p readtiming.Stability) reports.StabilityPoint {
	return reports.StabilityPoint{TauS: p.TauS, Value: p.Value, Low: p.Low, High: p.High, Terms: p.Terms}
}
