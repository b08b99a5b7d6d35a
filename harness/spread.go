package harness

import (
	"fmt"

	"latchproof/harness/judge"
)

// Spread is how far a value lies apart over the repeats that have it.
type Spread struct {
	Repeats int `json:"repeats"` // that have a value
	// Low and High are the least and the greatest: one number, or x and y apart.
	Low  []int64 `json:"low"`
	High []int64 `json:"high"`
}

// SpreadOf gathers a value over the repeats: of a checkpoint, an int or a [2]int.
// It is nil when no repeat has one.
func SpreadOf(values []any) *Spread {
	var s *Spread
	for _, v := range values {
		var x []int64
		switch v := v.(type) {
		case int:
			x = []int64{int64(v)}
		case [2]int:
			x = []int64{int64(v[0]), int64(v[1])}
		default:
			continue
		}
		if s == nil {
			s = &Spread{Low: append([]int64{}, x...), High: append([]int64{}, x...)}
		}
		if len(x) != len(s.Low) {
			continue
		}
		s.Repeats++
		for i := range x {
			s.Low[i], s.High[i] = min(s.Low[i], x[i]), max(s.High[i], x[i])
		}
	}
	return s
}

// String is such as "(1, 0) in all 5 repeats" or "x 1 to 3, y 0 over 5 repeats".
func (s *Spread) String() string {
	same := true
	for i := range s.Low {
		same = same && s.Low[i] == s.High[i]
	}
	of := fmt.Sprintf("all %d repeats", s.Repeats)
	if s.Repeats == 1 {
		of = "the one repeat that has it"
	}
	one := func(i int) string {
		if s.Low[i] == s.High[i] {
			return fmt.Sprint(s.Low[i])
		}
		return fmt.Sprintf("%d to %d", s.Low[i], s.High[i])
	}
	switch {
	case same && len(s.Low) == 2:
		return fmt.Sprintf("(%d, %d) in %s", s.Low[0], s.Low[1], of)
	case same:
		return fmt.Sprintf("%d in %s", s.Low[0], of)
	case len(s.Low) == 2:
		return fmt.Sprintf("x %s, y %s over %d repeats", one(0), one(1), s.Repeats)
	}
	return fmt.Sprintf("%s over %d repeats", one(0), s.Repeats)
}

// Spreads are those of the checkpoints that read or measure something, by their
// index in the spec.
func (c *Case) Spreads() map[int]*Spread {
	runs, _ := c.Runs()
	out := map[int]*Spread{}
	for i, cp := range c.Spec.Checkpoints {
		if cp.Kind != "reads" && cp.Kind != "measure" {
			continue
		}
		var values []any
		for _, r := range runs {
			if i < len(r.Results) && r.Results[i].Verdict != judge.Unseen {
				values = append(values, r.Results[i].Value)
			}
		}
		if s := SpreadOf(values); s != nil {
			out[i] = s
		}
	}
	return out
}

// TimingText says what the timing came to over the repeats; empty when the spec
// asks for none or nothing was run.
func (c *Case) TimingText() string {
	runs, _ := c.Runs()
	if c.Spec.Timing == nil || len(runs) == 0 {
		return ""
	}
	var low, high, first, told int64
	same := true
	why := ""
	var seconds float64
	for _, r := range runs {
		t := r.Timing
		if t == nil || t.Verdict != judge.Pass {
			if t != nil && why == "" {
				why = r.Name + ": " + t.Why
			}
			continue
		}
		if told++; told == 1 {
			low, high, first, seconds = t.Low, t.High, t.Frames, t.Seconds
		}
		same = same && t.Frames == first
		low, high = min(low, t.Low), max(high, t.High)
	}
	if told == 0 {
		return "the timing cannot be told: " + why
	}
	out := fmt.Sprintf("the timing is %d frames (%.3f s)", first, seconds)
	switch {
	case low == high && same:
	case same:
		out += fmt.Sprintf(", %d to %d for unseen frames", low, high)
	default:
		out = fmt.Sprintf("the timing differs: %d to %d frames", low, high)
	}
	if told < int64(c.Repeats) {
		out += fmt.Sprintf(" in %d of %d repeats", told, c.Repeats)
		if why != "" {
			out += " (" + why + ")"
		}
	}
	return out
}
