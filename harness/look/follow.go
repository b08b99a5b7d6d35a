package look

import (
	"cmp"
	"slices"

	"latchproof/specs/console"
)

// follower joins the places of neighbouring seen frames to stretches.
type follower struct {
	open []Stretch // those that show on the last seen frame
	past []Stretch
}

// frame takes the places of the next seen frame.
func (w *follower) frame(f console.Frame, all []Sighting) {
	type pair struct{ stretch, place, far int }
	var pairs []pair
	for i, s := range w.open {
		last := s.last()
		reach := Reach * int(f-last.Frame) // frames between may be unseen
		for j, p := range all {
			d := p.At.Sub(last.At)
			if far := max(d.X, -d.X, d.Y, -d.Y); far <= reach {
				pairs = append(pairs, pair{i, j, far})
			}
		}
	}
	slices.SortStableFunc(pairs, func(a, b pair) int { return cmp.Compare(a.far, b.far) })
	goes, taken := make([]bool, len(w.open)), make([]bool, len(all))
	for _, p := range pairs {
		if goes[p.stretch] || taken[p.place] {
			continue
		}
		goes[p.stretch], taken[p.place] = true, true
		s := all[p.place]
		s.Frame = f
		w.open[p.stretch].Sightings = append(w.open[p.stretch].Sightings, s)
	}
	var open []Stretch
	for i, s := range w.open {
		if goes[i] {
			open = append(open, s)
		} else {
			w.past = append(w.past, s)
		}
	}
	for j, p := range all {
		if !taken[j] {
			p.Frame = f
			open = append(open, Stretch{Sightings: []Sighting{p}})
		}
	}
	w.open = open
}

// done gives all stretches by their first frame, then place in reading order.
func (w *follower) done() []Stretch {
	all := append(w.past, w.open...)
	slices.SortStableFunc(all, func(a, b Stretch) int {
		p, q := a.Sightings[0], b.Sightings[0]
		return cmp.Or(cmp.Compare(p.Frame, q.Frame), cmp.Compare(p.At.Y, q.At.Y), cmp.Compare(p.At.X, q.At.X))
	})
	return all
}
