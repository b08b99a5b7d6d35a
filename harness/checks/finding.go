package checks

import (
	"image"
	"math"

	"latchproof/vision/screen"
)

// mostLookalikes is how many places may look like a template in noise before it
// is given up to find it.
const mostLookalikes = 12

// finding is a search for a target on one screen.
type finding struct {
	bar
	*target
	s *screen.Screen

	at        image.Point
	score     float64
	threshold float64 // at that place
	found     bool
	many      bool // too many places look like it
}

// find looks for the best place that reaches its threshold. When there is none,
// it is the best place.
func (f *finding) find() error {
	if f.in.Dx() == 1 && f.in.Dy() == 1 {
		score, err := f.template.ScoreAt(f.s, f.in.Min)
		if err != nil {
			return err
		}
		f.take(f.in.Min, score)
		return nil
	}
	type part struct {
		in    image.Rectangle
		at    image.Point
		score float64
	}
	var parts []part
	add := func(in image.Rectangle) error {
		m, err := f.template.Match(f.s, in)
		if err == nil {
			parts = append(parts, part{in, m.At, m.Score})
		}
		return err
	}
	whole := f.in
	if whole.Empty() {
		whole = image.Rect(0, 0, f.s.W-f.template.Size().X+1, f.s.H-f.template.Size().Y+1)
	} else {
		whole = whole.Intersect(image.Rect(0, 0, f.s.W-f.template.Size().X+1, f.s.H-f.template.Size().Y+1))
	}
	if err := add(f.in); err != nil {
		return err
	}
	parts[0].in = whole
	first := parts[0]
	for tries := 0; len(parts) > 0; tries++ {
		k := 0
		for i, p := range parts {
			if p.score > parts[k].score {
				k = i
			}
		}
		best := parts[k]
		if best.score < f.bar.score {
			break
		}
		if f.take(best.at, best.score); f.found {
			return nil
		}
		if tries == mostLookalikes {
			f.many = true
			break
		}
		// This place only looks like it in noise: the others go on without it.
		parts = append(parts[:k], parts[k+1:]...)
		for _, in := range around(best.in, best.at) {
			if err := add(in); err != nil {
				return err
			}
		}
	}
	f.take(first.at, first.score)
	return nil
}

func (f *finding) take(at image.Point, score float64) {
	f.at, f.score, f.threshold = at, score, f.bar.score
	if f.target.score == 0 && score >= f.bar.score {
		f.threshold = f.thresholdAt(f.s, at, f.noise)
	}
	f.found = score >= f.threshold
}

// around are the parts of a rectangle that are left without a place and those
// within 2 pixels of it.
func around(in image.Rectangle, at image.Point) (out []image.Rectangle) {
	hole := image.Rect(at.X-2, at.Y-2, at.X+3, at.Y+3).Intersect(in)
	for _, r := range []image.Rectangle{
		{in.Min, image.Pt(in.Max.X, hole.Min.Y)},
		{image.Pt(in.Min.X, hole.Max.Y), in.Max},
		{image.Pt(in.Min.X, hole.Min.Y), image.Pt(hole.Min.X, hole.Max.Y)},
		{image.Pt(hole.Max.X, hole.Min.Y), image.Pt(in.Max.X, hole.Max.Y)},
	} {
		if !r.Empty() {
			out = append(out, r)
		}
	}
	return out
}

// thresholdAt is the threshold of one place: noise takes less from the score
// where the picture has more contrast than the template.
func (t *target) thresholdAt(s *screen.Screen, at image.Point, noise float64) float64 {
	if t.score > 0 {
		return t.score
	}
	size := t.template.Size()
	var n, sum, squares float64
	for y := range size.Y {
		for x := range size.X {
			if _, used := t.template.At(x, y); used {
				v := float64(s.Y[(at.Y+y)*s.W+at.X+x])
				n, sum, squares = n+1, sum+v, squares+v*v
			}
		}
	}
	// What is left of the variance without the noise is the contrast there.
	there := math.Sqrt(max(0, squares/n-sum/n*(sum/n)-noise*noise))
	return DefaultThreshold(max(there, t.template.Contrast()), noise)
}
