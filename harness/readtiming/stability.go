package readtiming

import (
	"fmt"
	"io"

	"latchproof/harness/stats"
)

// Stability is a deviation of the reads' clock at an averaging time.
type Stability struct {
	TauS  float64 `json:"tau_s"`
	Value float64 `json:"value"`
	// Low and High are limits at 95 %; both 0 where package stats gives none.
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
	Terms int     `json:"terms"` // differences that it is the mean of
}

// stability takes the deviations at octaves. An octave for which too few frames in
// a row have reads is left out.
func (s *Study) stability(period float64) {
	s.Allan, s.TDEV = []Stability{}, []Stability{}
	for _, m := range stats.Octaves(len(s.phase)) {
		if a, err := stats.AllanDeviation(s.phase, period, m); err == nil {
			s.Allan = append(s.Allan, Stability{a.Tau, a.Value, a.Low, a.High, a.Terms})
		}
		if t, err := stats.TimeDeviation(s.phase, period, m); err == nil {
			s.TDEV = append(s.TDEV, Stability{t.Tau, t.Value, t.Low, t.High, t.Terms})
		}
	}
}

// printStability writes every second octave.
func (s Study) printStability(w io.Writer) {
	if len(s.Allan) == 0 {
		return
	}
	tdev := map[float64]Stability{}
	for _, t := range s.TDEV {
		tdev[t.TauS] = t
	}
	fmt.Fprintln(w, "  stability  averaged over   Allan deviation   time deviation")
	for i := 0; i < len(s.Allan); i += 2 {
		a := s.Allan[i]
		line := fmt.Sprintf("    %18.3f s  %16.3g", a.TauS, a.Value)
		if t, ok := tdev[a.TauS]; ok {
			line += fmt.Sprintf("  %12.3f us", t.Value*1e6)
		}
		fmt.Fprintln(w, line)
	}
}
