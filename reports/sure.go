package reports

import (
	"fmt"
	"math"
)

// sure is how sure the answer is: the lockstep rate in words and its interval
// as a bar from 0 to 100 %.
type sure struct {
	Rate     string // "4 of 5"
	Words    string
	Interval bool
	Low      string
	High     string
	X, W     float64 // of the interval, 0 to 100
	Point    float64 // the rate seen, 0 to 100; below 0 when there is none
	Required string
	Held     bool
}

// howSure words the lockstep rate. The first repeat is the reference and cannot
// part from itself, so the interval is that of the others; it is given with the
// session (Clopper and Pearson, 1934) and not worked out here.
func howSure(l Lockstep) sure {
	s := sure{Rate: fmt.Sprintf("%s of %s", count(l.InStep), count(l.Repeats)), Held: l.Held, Point: -1}
	if l.Required > 0 {
		s.Required = count(l.Required)
	}
	switch {
	case l.Repeats <= 0:
		s.Words = "No repeats could be compared, so how often they stay in lockstep is not known."
		return s
	case l.Repeats == 1:
		s.Words = "Only one repeat could be compared. That says nothing about whether it can be repeated."
		return s
	case math.IsNaN(l.Low) || math.IsNaN(l.High) || l.High <= 0:
		s.Words = fmt.Sprintf("%s repeats stayed in lockstep with the first, itself included.", s.Rate)
		return s
	}
	s.Interval = true
	s.Low, s.High = percent(l.Low, false), percent(l.High, true)
	s.X, s.W = round(100*l.Low), round(100*max(l.High-l.Low, 0))
	others, stayed := l.Repeats-1, max(l.InStep-1, 0)
	s.Point = round(100 * float64(stayed) / float64(others))
	s.Words = fmt.Sprintf("The first repeat is the reference; %s stayed in lockstep with it. From so many, we can say with 95\u00a0%% confidence that a further repeat on this bench stays in lockstep with it in %s of cases.",
		ofOthers(stayed, others), between(s.Low, s.High))
	if stayed == others && l.Low < 0.9 {
		s.Words += " More clean repeats raise the lower limit."
	}
	return s
}

func ofOthers(stayed, others int) string {
	switch {
	case others == 1 && stayed == 1:
		return "the other one"
	case stayed == 0:
		return "none of the others"
	case stayed >= others:
		return fmt.Sprintf("all %s others", count(others))
	}
	return fmt.Sprintf("%s of the %s others", count(stayed), count(others))
}

// between leaves out a limit that says nothing.
func between(low, high string) string {
	none, all := percent(0, false), percent(1, true)
	switch {
	case low == none && high == all:
		return "anything from none to all"
	case high == all:
		return "at least " + low
	case low == none:
		return "at most " + high
	}
	return "at least " + low + " and at most " + high
}
