package look

import (
	"fmt"
	"image"
	"math"

	"latchproof/vision"
	"latchproof/vision/screen"
)

// Limits below which a cut is warned of.
const (
	// PlainContrast is the contrast, levels, under which a cut is called plain: at
	// a score of 0.9 noise of half of it hides the template (harness/checks says
	// why).
	PlainContrast = 12
	// AlikeScore is the second-best score from which on a cut is called not
	// unique: it leaves half of what the threshold of 0.9 leaves for noise.
	AlikeScore = 0.8
)

// Weight says how good a template is on the screen that it was cut from.
type Weight struct {
	Contrast float64     // standard deviation of the luma of the used pixels, levels
	Used     int         // pixels
	Own      float64     // score at its own place
	Second   float64     // best score away from it; -1 when there is no such place
	SecondAt image.Point // its place
}

// Margin is by how much the own place is better than the second best.
func (w Weight) Margin() float64 { return w.Own - w.Second }

// Warnings are sentences about what is wrong with the cut; empty for nothing.
func (w Weight) Warnings() []string {
	var out []string
	if w.Contrast < PlainContrast {
		out = append(out, fmt.Sprintf("it is plain: its contrast is %.1f levels, and under %d noise can hide it; take in an edge or more of the thing", w.Contrast, PlainContrast))
	}
	if w.Second >= AlikeScore {
		out = append(out, fmt.Sprintf("it is not unique: (%d, %d) on the same screen scores %.3f; take a larger rectangle, or give `near` in the spec", w.SecondAt.X, w.SecondAt.Y, w.Second))
	}
	return out
}

// Weigh weighs the cut at r of screen s with an alpha mask (nil: none). Errors
// are those of vision.NewTemplate (flat, too small) and screen.ErrOutside.
func Weigh(s *screen.Screen, r image.Rectangle, alpha []byte) (Weight, error) {
	cut, err := s.Crop(r)
	if err != nil {
		return Weight{}, err
	}
	t, err := vision.NewTemplate(cut, alpha)
	if err != nil {
		return Weight{}, err
	}
	var w Weight
	w.Contrast, w.Used = contrast(cut, alpha)
	if w.Own, err = t.ScoreAt(s, r.Min); err != nil {
		return Weight{}, err
	}
	w.Second, w.SecondAt, err = second(t, s, r.Min)
	return w, err
}

// second is the best score at places that differ from own by more than half the
// template's width or height. Match alone cannot tell when another place scores
// exactly as much.
func second(t *vision.Template, s *screen.Screen, own image.Point) (float64, image.Point, error) {
	size := t.Size()
	near := image.Rect(-(size.X / 2), -(size.Y / 2), size.X/2+1, size.Y/2+1).Add(own)
	best, at := -1.0, image.Pt(-1, -1)
	for _, r := range around(image.Rect(0, 0, s.W-size.X+1, s.H-size.Y+1), near) {
		m, err := t.Match(s, r)
		if err != nil {
			return 0, at, err
		}
		if m.Score > best {
			best, at = m.Score, m.At
		}
	}
	return best, at, nil
}

// contrast is the standard deviation of the luma of the used pixels, and their
// number.
func contrast(s *screen.Screen, alpha []byte) (float64, int) {
	var n, sum, squares float64
	for i, v := range s.Y {
		if alpha == nil || alpha[i] >= 128 {
			n, sum, squares = n+1, sum+float64(v), squares+float64(v)*float64(v)
		}
	}
	if n == 0 {
		return 0, 0
	}
	return math.Sqrt(max(squares/n-sum*sum/n/n, 0)), int(n)
}
