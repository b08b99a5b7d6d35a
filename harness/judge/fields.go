package judge

import (
	"slices"
	"time"

	"latchproof/vision"
)

// Fields says whether a captured picture is woven of two fields and which is
// the first in time: the top one, in rows 0, 2, 4, or the bottom one.
type Fields string

// The kinds of fields; empty is none.
const (
	NoFields    Fields = "none"
	TopFirst    Fields = "top"
	BottomFirst Fields = "bottom"
)

// Woven says whether there are fields.
func (f Fields) Woven() bool { return f == TopFirst || f == BottomFirst }

// per is how many capture pictures a picture of the file holds.
func (f Fields) per() int {
	if f.Woven() {
		return 2
	}
	return 1
}

// lines are those of the first or the second field.
func (f Fields) lines(second bool) vision.Lines {
	switch {
	case !f.Woven():
		return vision.AllLines
	case (f == TopFirst) != second:
		return vision.TopLines
	}
	return vision.BottomLines
}

// Instants gives every field its instant when the stamps are those of the woven
// pictures of a file: the second field's is half the median step later. Without
// fields they are the stamps.
func (f Fields) Instants(stamps []time.Duration) []time.Duration {
	if !f.Woven() {
		return stamps
	}
	half := medianStep(stamps) / 2
	out := make([]time.Duration, 0, 2*len(stamps))
	for _, s := range stamps {
		out = append(out, s, s+half.Truncate(time.Microsecond))
	}
	return out
}

func medianStep(stamps []time.Duration) time.Duration {
	if len(stamps) < 2 {
		return 0
	}
	steps := make([]time.Duration, 0, len(stamps))
	for i := 1; i < len(stamps); i++ {
		steps = append(steps, stamps[i]-stamps[i-1])
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}

// Rate is the picture rate by the median step between stamps, hertz; 0 when
// there is none.
func Rate(stamps []time.Duration) float64 {
	if step := medianStep(stamps); step > 0 {
		return 1 / step.Seconds()
	}
	return 0
}
