package index

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"latchproof/reports"
)

// maxSpecs is how many specs of a session are kept.
const maxSpecs = 200

// sessionFile is what the index takes of a report. Its keys are those of
// reports.Session; all others are skipped.
type sessionFile struct {
	Title    string        `json:"title"`
	Made     time.Time     `json:"made"`
	Bench    reports.Bench `json:"bench"`
	Specs    *[]specFile   `json:"specs"`
	Soak     *verdictFile  `json:"soak"`
	Baseline *verdictFile  `json:"baseline"`
}

type verdictFile struct {
	Verdict string `json:"verdict"`
}

type specFile struct {
	Name        string           `json:"name"`
	ProgramHash string           `json:"program_hash"`
	Verdict     string           `json:"verdict"`
	Note        string           `json:"note"`
	Lockstep    lockstepFile     `json:"lockstep"`
	Repeats     []repeatFile     `json:"repeats"`
	Divergences []divergenceFile `json:"divergences"`
	ReadTiming  []timingFile     `json:"read_timing"`
}

type lockstepFile struct {
	InStep  int     `json:"in_step"`
	Repeats int     `json:"repeats"`
	Low     float64 `json:"low"`
	High    float64 `json:"high"`
}

type repeatFile struct {
	Clock    string  `json:"clock"`
	PPM      float64 `json:"ppm"`
	JitterUS float64 `json:"jitter_us"`
}

type divergenceFile struct {
	Frame int64  `json:"frame"`
	Kind  string `json:"kind"`
	Part  string `json:"part"`
}

type timingFile struct {
	PPM             float64 `json:"ppm"`
	JitterUS        float64 `json:"jitter_us"`
	ServiceMedianUS float64 `json:"service_median_us"`
	ServiceWorstUS  float64 `json:"service_worst_us"`
}

// parse reads one report; now tells dates that cannot be.
func parse(data []byte, now time.Time) (Session, error) {
	if err := bounded(data); err != nil {
		return Session{}, err
	}
	var f sessionFile
	if err := json.Unmarshal(data, &f); err != nil {
		var wrong *json.UnmarshalTypeError
		var syntax *json.SyntaxError
		switch {
		case errors.As(err, &wrong):
			return Session{}, fmt.Errorf("%s holds a JSON %s, which is not what a report has there", wrong.Field, wrong.Value)
		case errors.As(err, &syntax):
			return Session{}, fmt.Errorf("not JSON at byte %d: %s", syntax.Offset, syntax)
		}
		return Session{}, err
	}
	if f.Specs == nil {
		return Session{}, errors.New("not a report of this program: there is no key specs")
	}
	b := f.Bench
	s := Session{
		Title: short(f.Title), Made: f.Made.UTC(), Bench: short(b.Name), Simulated: b.Simulated,
		Revision: short(b.FeederRevision), Firmware: short(b.FeederFirmware), FeederSerial: short(b.FeederSerial), ConsoleSerial: short(b.ConsoleSerial),
		Specs: []Spec{},
	}
	s.Dated = s.Made.Year() >= 2000 && s.Made.Before(now.Add(24*time.Hour))
	older(&s, b)
	for i, sp := range *f.Specs {
		if i == maxSpecs {
			s.SpecsLeft = len(*f.Specs) - maxSpecs
			break
		}
		s.Specs = append(s.Specs, specOf(sp))
	}
	s.timing(*f.Specs)
	s.Verdict = overall(s.Specs)
	switch {
	case f.Baseline != nil:
		s.Asked, s.Verdict = "baseline", verdictOf(f.Baseline.Verdict)
	case f.Soak != nil:
		s.Asked, s.Verdict = "soak", verdictOf(f.Soak.Verdict)
	}
	return s, nil
}

// short keeps as much of a text as an index can use, as it was written.
func short(s string) string {
	const most = 300
	if len(s) <= most {
		return s
	}
	return strings.ToValidUTF8(s[:most], "") + "…"
}

// older fills in what reports say of the board in words only, as versions before
// 0.2 wrote it: "model, revision R, firmware F, serial S".
func older(s *Session, b reports.Bench) {
	take := func(into *string, from, name string) {
		if *into != "" {
			return
		}
		for _, p := range strings.Split(from, ", ") {
			if v, ok := strings.CutPrefix(p, name+" "); ok {
				*into = short(v)
				return
			}
		}
	}
	take(&s.Revision, b.Feeder, "revision")
	take(&s.Firmware, b.Feeder, "firmware")
	take(&s.FeederSerial, b.Feeder, "serial")
	take(&s.ConsoleSerial, b.Console, "serial")
}

func specOf(f specFile) Spec {
	s := Spec{Name: short(f.Name), ProgramHash: short(f.ProgramHash), Verdict: verdictOf(f.Verdict), InStep: f.Lockstep.InStep, Repeats: f.Lockstep.Repeats, Note: short(f.Note)}
	if l := f.Lockstep; l.Repeats > 1 && l.InStep >= 0 && l.InStep <= l.Repeats {
		r := Spread{Value: float64(max(l.InStep-1, 0)) / float64(l.Repeats-1), Low: l.Low, High: l.High}
		if !(r.Low >= 0 && r.Low <= r.Value && r.Value <= r.High && r.High <= 1) {
			r.Low, r.High = 1, 0
		}
		s.Rate = &r
	}
	for _, d := range f.Divergences {
		if s.First == nil || d.Frame < s.First.Frame {
			s.First = &Divergence{d.Frame, short(d.Kind), short(d.Part)}
		}
	}
	return s
}

// verdictOf brings a verdict to one of three; words that are not known say
// nothing.
func verdictOf(v string) string {
	switch v {
	case held, "proven", "no worse":
		return held
	case notHeld, "refuted", "worse":
		return notHeld
	}
	return untold
}

// overall is the verdict of several specs: what surely does not hold outweighs
// what cannot be told.
func overall(specs []Spec) string {
	var n [2]int
	for _, s := range specs {
		switch s.Verdict {
		case notHeld:
			return notHeld
		case held:
			n[0]++
		default:
			n[1]++
		}
	}
	if n[0] == 0 || n[1] > 0 {
		return untold
	}
	return held
}

// timing is the timing of the reads over the repeats of all specs: of the read
// logs where they were studied, otherwise of the frame clocks that were measured.
func (s *Session) timing(specs []specFile) {
	var jitter, ppm, service []float64
	worst := 0.0
	add := func(to *[]float64, v, most float64) {
		if !math.IsNaN(v) && math.Abs(v) <= most {
			*to = append(*to, v)
		}
	}
	const longest, farthest = 1e7, 1e6 // microseconds, ppm
	for _, sp := range specs {
		for _, t := range sp.ReadTiming {
			add(&jitter, t.JitterUS, longest)
			add(&ppm, t.PPM, farthest)
			if t.ServiceMedianUS > 0 || t.ServiceWorstUS > 0 {
				add(&service, t.ServiceMedianUS, longest)
				if t.ServiceWorstUS <= longest {
					worst = max(worst, t.ServiceWorstUS)
				}
			}
		}
		if len(sp.ReadTiming) > 0 {
			continue
		}
		for _, r := range sp.Repeats {
			if r.Clock == "measured" {
				add(&jitter, r.JitterUS, longest)
				add(&ppm, r.PPM, farthest)
			}
		}
	}
	s.JitterUS, s.PPM, s.ServiceUS = spread(jitter), spread(ppm), spread(service)
	if s.ServiceUS != nil {
		s.ServiceUS.High = max(s.ServiceUS.High, worst)
	}
}

// spread is the median with the least and the most; nil for none.
func spread(vs []float64) *Spread {
	if len(vs) == 0 {
		return nil
	}
	slices.Sort(vs)
	n := len(vs)
	return &Spread{Value: (vs[(n-1)/2] + vs[n/2]) / 2, Low: vs[0], High: vs[n-1]}
}
