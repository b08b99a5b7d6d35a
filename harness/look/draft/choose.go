package draft

import (
	"cmp"
	"context"
	"image"
	"slices"

	"latchproof/harness/look"
	"latchproof/specs/console"
	"latchproof/vision"
	"latchproof/vision/screen"
)

// MaxSecond is the score of a second-best place on the same screen from which on
// a candidate is not taken.
const MaxSecond = 0.85

// compared is how many candidates are searched for on the other screens.
const compared = 10

// around is how many frames before and after are looked at for stability.
const around = 2

// choice is a template with what was measured of it.
type choice struct {
	candidate
	picture  *screen.Screen // the cut
	second   float64        // best score elsewhere on its own screen
	secondAt image.Point
	other    float64 // best score on the other screens; -1 when there are none
	otherOf  string  // the mark of that screen
	otherAt  image.Point
	beside   []float64 // its score there on each neighbouring frame seen
	stands   int       // on how many of them it stands there unchanged
	weakest  float64   // the lowest score on those, and half a line away; 1 when there are none
	woven    bool      // of a woven capture
}

// margin is the distance from its weakest right score to the best wrong one.
func (c choice) margin() float64 { return c.weakest - max(c.second, c.other) }

// worth orders choices.
func (c choice) worth() float64 {
	return c.margin() * (1 + 0.5*float64(c.stands)/float64(max(len(c.beside), 1)))
}

// passing is on how many of the neighbouring frames seen it is at or above a
// threshold.
func (c choice) passing(score float64) int {
	n := 0
	for _, v := range c.beside {
		if v >= score {
			n++
		}
	}
	return n
}

// album has the screens that a draft needs, and their noise.
type album struct {
	screens map[console.Frame]*screen.Screen
	noise   float64 // standard deviation, levels of luma
	woven   bool    // of two fields, half a line apart
}

// fill decodes the frames around the wanted ones.
func (a *album) fill(ctx context.Context, r *look.Run, wanted []console.Frame) error {
	near := map[console.Frame]bool{}
	for _, f := range wanted {
		for g := f - around; g <= f+around; g++ {
			near[g] = true
		}
	}
	a.screens = map[console.Frame]*screen.Screen{}
	err := r.Screens(ctx, func(f console.Frame) bool { return near[f] }, func(f console.Frame, s *screen.Screen) error {
		a.screens[f] = s.Clone()
		return nil
	})
	a.noise = noise(a.screens)
	return err
}

// choose gives the templates for a moment, best first; none when nothing on the
// screen will do. others are the moments whose screens it should not be on.
func (a *album) choose(m moment, others []moment) ([]choice, error) {
	s := a.screens[m.frame]
	if s == nil {
		return nil, nil
	}
	var own []choice
	for _, c := range candidates(s) {
		w, err := look.Weigh(s, c.in, nil)
		if err != nil {
			return nil, err
		}
		if w.Second < MaxSecond {
			own = append(own, choice{candidate: c, second: w.Second, secondAt: w.SecondAt, other: -1})
		}
	}
	slices.SortStableFunc(own, func(a, b choice) int { return cmp.Compare(a.second, b.second) })
	own = own[:min(compared, len(own))]
	var halves []*screen.Screen
	if a.woven {
		halves = halfLines(s)
	}
	for i := range own {
		if err := a.measure(&own[i], m, others); err != nil {
			return nil, err
		}
		for _, h := range halves {
			if err := own[i].weaken(h); err != nil {
				return nil, err
			}
		}
	}
	slices.SortStableFunc(own, func(a, b choice) int { return cmp.Compare(b.worth(), a.worth()) })
	return own, nil
}

// measure looks for a choice on the other screens and on the neighbours.
func (a *album) measure(c *choice, m moment, others []moment) error {
	var err error
	if c.picture, err = a.screens[m.frame].Crop(c.in); err != nil {
		return err
	}
	t, err := vision.NewTemplate(c.picture, nil)
	if err != nil {
		return err
	}
	for _, o := range others {
		s := a.screens[o.frame]
		if s == nil || o.frame == m.frame {
			continue
		}
		got, err := t.Match(s, image.Rectangle{})
		if err != nil {
			return err
		}
		if got.Score > c.other {
			c.other, c.otherOf, c.otherAt = got.Score, o.name, got.At
		}
	}
	c.weakest = 1
	for f := m.frame - around; f <= m.frame+around; f++ {
		s := a.screens[f]
		if s == nil || f == m.frame {
			continue
		}
		score, err := t.ScoreAt(s, c.in.Min)
		if err != nil {
			return err
		}
		c.beside = append(c.beside, score)
		if score >= a.standing(c.contrast) {
			c.stands++
			c.weakest = min(c.weakest, score)
		}
	}
	return nil
}

// standing is the score from which on a thing of that contrast counts as standing
// there unchanged. Two pictures of it, both with noise σ and, noise included, the
// standard deviation c, correlate by 1 − σ²/c² (Spearman's attenuation, see
// harness/checks); four times the loss and 0.03 are left for compression, which
// is no even noise.
func (a *album) standing(contrast float64) float64 {
	return max(0.5, 0.97-4*a.noise*a.noise/(contrast*contrast))
}

// halfLines are the screen half a line higher and half a line lower, by linear
// interpolation: what the other field of a woven capture sees. Which field a frame
// falls on differs from run to run.
func halfLines(s *screen.Screen) []*screen.Screen {
	up, down := s.Clone(), s.Clone()
	for i := s.W; i < len(s.Y); i++ {
		mean := byte((int(s.Y[i-s.W]) + int(s.Y[i]) + 1) / 2)
		up.Y[i-s.W], down.Y[i] = mean, mean
	}
	return []*screen.Screen{up, down}
}

// weaken takes in the score on a screen on which the thing must be found too.
func (c *choice) weaken(s *screen.Screen) error {
	t, err := vision.NewTemplate(c.picture, nil)
	if err != nil {
		return err
	}
	score, err := t.ScoreAt(s, c.in.Min)
	c.weakest, c.woven = min(c.weakest, score), true
	return err
}
