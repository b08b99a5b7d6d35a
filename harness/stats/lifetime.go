package stats

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Lifetime is how long one repeat was watched, in any unit that is used
// throughout (here frames), and how that ended. With Event it parted at Time.
// Without, it is censored: it was watched through Time, Time included, and had
// not parted. So a life censored at t counts among those at risk at t, and is
// known to have outlived t.
type Lifetime struct {
	Time  float64 `json:"time"`
	Event bool    `json:"event"`
}

// ErrRange is wrapped for a time that is negative, infinite or no number.
func checkLives(lives []Lifetime) error {
	for i, l := range lives {
		if !(l.Time >= 0) || math.IsInf(l.Time, 1) {
			return fmt.Errorf("%w: lifetime %d of %d is %v", ErrRange, i+1, len(lives), l.Time)
		}
	}
	return nil
}

// moment is one distinct time of a set of lives.
type moment struct {
	time                     float64
	atRisk, events, censored int64 // atRisk: lives with Time >= time
}

// moments are the distinct times in rising order.
func moments(lives []Lifetime) []moment {
	s := slices.Clone(lives)
	slices.SortFunc(s, func(a, b Lifetime) int { return cmp.Compare(a.Time, b.Time) })
	var out []moment
	for i := 0; i < len(s); {
		m := moment{time: s[i].Time, atRisk: int64(len(s) - i)}
		for ; i < len(s) && s[i].Time == m.time; i++ {
			if s[i].Event {
				m.events++
			} else {
				m.censored++
			}
		}
		out = append(out, m)
	}
	return out
}
