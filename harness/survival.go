package harness

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"latchproof/harness/lockstep"
	"latchproof/harness/stats"
	"latchproof/reports"
)

// survivalConfidence is that of the limits of survival curves.
const survivalConfidence = 0.95

// early is by how many frames before the reference's end a repeat must be cut
// for that to be told; recordings are ended by hand-over-hand messages.
const early = 60

// Lifetimes are how long repeats stayed in lockstep with the reference, frames.
// A repeat counts as parted when it surely did. One whose parting may be that of
// a frame clock or of the capture card alone (Doubtful), or which the card ended,
// is censored there, and one that did not part at the last frame on which both
// were seen to agree. A repeat that was never seen to agree is left out. assumed
// names the repeats whose frame clock is assumed: they cannot surely part.
func Lifetimes(lives []lockstep.Life, assumed []string) []stats.Lifetime {
	var out []stats.Lifetime
	for _, l := range lives {
		if l.Frame < 0 {
			continue
		}
		out = append(out, stats.Lifetime{Time: float64(l.Frame), Event: SurelyParted(l, assumed)})
	}
	return out
}

// SurelyParted says whether it is the run that parts, and not a frame clock or
// the capture card alone.
func SurelyParted(l lockstep.Life, assumed []string) bool {
	d := l.Parted
	if d == nil || Doubtful(d) != "" || d.Kind == lockstep.KindEnd && d.Part == lockstep.PartCard {
		return false
	}
	for _, name := range assumed {
		if name == l.Run || name == d.A {
			return false
		}
	}
	return true
}

// Survival is the report's survival curve of lifetimes; nil when there are none.
// frames is how many frames the reference covers. The curve ends where the first
// of the repeats that were not cut ends, or at the last parting: a few frames
// later it would speak of fewer repeats for no reason of theirs. It has a step at
// frame 0, at every parting, at every cut and at its end.
func Survival(lives []stats.Lifetime, frames int64) (*reports.Survival, error) {
	if len(lives) == 0 {
		return nil, nil
	}
	curve, err := stats.KaplanMeier(lives, survivalConfidence)
	if err != nil {
		return nil, err
	}
	out := &reports.Survival{Repeats: len(lives), Parted: int(curve.Events), Confidence: survivalConfidence}
	whole, parted, cutAt := int64(-1), int64(-1), int64(-1)
	cuts := map[int64]int64{}
	for _, l := range lives {
		f := int64(l.Time)
		switch {
		case l.Event:
			parted = max(parted, f)
		case f < frames-early:
			out.Cut++
			cuts[f]++
			if cutAt < 0 || f < cutAt {
				cutAt = f
			}
		case whole < 0 || f < whole:
			whole = f
		}
	}
	end := max(whole, parted)
	if end < 0 {
		end = int64(curve.Steps[len(curve.Steps)-1].Time)
	}
	at := map[int64]bool{0: true, end: true}
	for f := range cuts {
		at[f] = f <= end
	}
	for _, s := range curve.Steps {
		at[int64(s.Time)] = int64(s.Time) <= end
	}
	for _, f := range slices.Sorted(maps.Keys(at)) {
		if at[f] {
			out.Steps = append(out.Steps, survivalStep(curve.At(float64(f)), f, cuts[f]))
		}
	}
	out.Sentence = survivalSentence(out, cutAt)
	return out, nil
}

func survivalStep(s stats.Step, frame, cut int64) reports.SurvivalStep {
	return reports.SurvivalStep{
		Frame: frame, AtRisk: s.AtRisk, Parted: s.Events, Cut: cut,
		Survival: s.Survival, SE: s.SE, Low: s.Exact.Low, High: s.Exact.High,
	}
}

func survivalSentence(s *reports.Survival, cutAt int64) string {
	var b strings.Builder
	last := s.Steps[len(s.Steps)-1]
	further := fmt.Sprintf("%d further repeats", s.Repeats)
	if s.Repeats == 1 {
		further = "the one further repeat"
	}
	if s.Parted == 0 {
		fmt.Fprintf(&b, "None of %s parted from the first up to frame %d", further, last.Frame)
	} else {
		first := last.Frame
		for _, x := range s.Steps {
			if x.Parted > 0 {
				first = x.Frame
				break
			}
		}
		fmt.Fprintf(&b, "%d of %s parted from the first, the earliest at frame %d; %s are still in lockstep at frame %d", s.Parted, further, first, Percent(last.Survival), last.Frame)
	}
	fmt.Fprintf(&b, " (%s limits for any further repeat: %s to %s).", Percent(s.Confidence), Percent(last.Low), Percent(last.High))
	switch {
	case s.Cut == 1:
		fmt.Fprintf(&b, " One was cut short at frame %d by trouble of the capture and counts up to there.", cutAt)
	case s.Cut > 1:
		fmt.Fprintf(&b, " %d were cut short by trouble of the capture, the earliest at frame %d, and count up to there.", s.Cut, cutAt)
	}
	return b.String()
}
