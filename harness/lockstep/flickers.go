package lockstep

import "latchproof/specs/console"

// One picture that differs and then agrees again may be the card's. Many of them,
// none of which looks like trouble of the capture, are no flicker any more: a
// console that strobes agrees with another again and again, for a few frames.
// The numbers are chosen, not derived: in 250 cases of the campaign (fixtures/campaign,
// seed 302) 30 suspects were counted in 282 runs, and no false divergence came of
// this rule.
const (
	flickersWithin = 60 // frames
	flickersMost   = 12 // so many within them are a divergence
)

// flickers are the suspects of the last frames that do not look like trouble.
type flickers struct{ recent []found }

// add takes one more, and gives the first of them when they are too many to be
// chance; nil otherwise.
func (fs *flickers) add(f found) *found {
	fs.recent = append(fs.recent, f)
	for f.frame-fs.recent[0].frame >= flickersWithin {
		fs.recent = fs.recent[1:]
	}
	if len(fs.recent) < flickersMost {
		return nil
	}
	first := fs.recent[0]
	first.flickers, first.flickersTo = len(fs.recent), f.frame
	return &first
}

// dropSuspects forgets the suspects from a frame on.
func dropSuspects(all []Suspect, from console.Frame) []Suspect {
	for len(all) > 0 && all[len(all)-1].Frame >= from {
		all = all[:len(all)-1]
	}
	return all
}
