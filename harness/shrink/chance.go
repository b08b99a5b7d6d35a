package shrink

import (
	"errors"
	"math"

	"latchproof/harness/stats"
)

// Rate is how often the runs of a program fall outside the largest group of
// runs that agree.
type Rate struct {
	Outside int64 `json:"outside"` // runs outside the largest group
	Runs    int64 `json:"runs"`
	// Low is the lower limit of the chance at 95 %, one-sided.
	Low float64 `json:"low"`
}

// Estimate gives the rate from the sizes of the groups of runs that agree.
//
// The limit is that of Clopper and Pearson for Outside in Runs. It holds the
// confidence although the largest group is chosen after looking: the truly
// largest group has no more runs than the one seen largest, so Outside is never
// too high. It holds as well when playing went on until a number of runs chosen
// beforehand was outside (Enough), or a number of runs had been played: both
// orders of stopping rank their outcomes as this limit does, and k outside in at
// most n runs is the same event either way.
func Estimate(groups []int) (Rate, error) {
	var r Rate
	largest := 0
	for _, n := range groups {
		r.Runs += int64(n)
		largest = max(largest, n)
	}
	r.Outside = r.Runs - int64(largest)
	i, err := stats.ClopperPearson(r.Outside, r.Runs, 0.90)
	r.Low = i.Low
	return r, err
}

// Enough is how many runs outside the largest group end the playing of the first
// program early: then the lower limit of its rate is about half the rate.
const Enough = 8

// Missed is the chance that a program whose runs fall outside the largest group
// at a rate shows no parting in n repeats against one reference, at the most.
func Missed(rate float64, n int64) float64 { return math.Pow(1-rate, float64(n)) }

// Played is what a repeat came to.
type Played int

// What a repeat can come to.
const (
	Clean  Played = iota // it stayed with the reference, or parted in a way not asked for
	Parted               // it surely parted as asked for
	Left                 // it cannot be told, and counts for nothing
)

// maxLeft is how many repeats, beyond as many as count, may be left out before
// a candidate cannot be told.
const maxLeft = 3

// Repeat plays up to most repeats of a candidate and stops at the first that
// parts. Repeats that are left out are played anew; when more of them are left
// out than count, and three more, nothing can be told of the candidate.
func Repeat(most int64, play func() (Played, error)) (Outcome, error) {
	if most < 1 {
		return Outcome{}, errors.New("a candidate is played at least once against its reference")
	}
	var o Outcome
	for o.Repeats < most {
		p, err := play()
		if err != nil {
			return o, err
		}
		switch p {
		case Left:
			if o.Left++; o.Left > o.Repeats+maxLeft {
				o.Verdict = Untold
				return o, nil
			}
		case Parted:
			o.Repeats, o.Parted, o.Verdict = o.Repeats+1, 1, Parts
			return o, nil
		default:
			o.Repeats++
		}
	}
	o.Verdict = Stays
	return o, nil
}
