package draft

import (
	"image"

	"latchproof/harness/lockstep"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

// Noise, Scalar, OneLine and Dark are tested on their own.
var (
	Noise   = noise
	Scalar  = scalar
	OneLine = oneLine
	Dark    = dark
)

// Measured is what candidates are ordered by.
func Measured(s *screen.Screen, r image.Rectangle) (contrast, corner float64) {
	c := newTables(s).candidate(r)
	return c.contrast, c.corner
}

// Candidates are the rectangles of the candidates.
func Candidates(s *screen.Screen) []image.Rectangle {
	var out []image.Rectangle
	for _, c := range candidates(s) {
		out = append(out, c.in)
	}
	return out
}

// ChangesOf are the frames of the changes of scene, and whether the frame before
// was seen.
func ChangesOf(t lockstep.Trace) (frames []console.Frame, next []bool, err error) {
	all, err := changes(t)
	for _, c := range all {
		frames, next = append(frames, c.frame), append(next, c.next)
	}
	return frames, next, err
}

// Threshold is that of a choice with these scores.
func Threshold(second, other, weakest float64) (float64, bool) {
	return choice{second: second, other: other, weakest: weakest}.threshold()
}

// Chosen are the place of the best choice and what was measured of it.
func Chosen(screens map[console.Frame]*screen.Screen, frame console.Frame, others ...console.Frame) (in image.Rectangle, second, other float64, stands int, err error) {
	a := &album{screens: screens, noise: noise(screens)}
	var list []moment
	for _, f := range others {
		list = append(list, moment{name: "other", frame: f})
	}
	got, err := a.choose(moment{frame: frame}, list)
	if err != nil || len(got) == 0 {
		return in, 0, 0, 0, err
	}
	return got[0].in, got[0].second, got[0].other, got[0].stands, nil
}

// HalfLines are the screens half a line away.
var HalfLines = halfLines

// Weakest is the weakest score of the choice for a screen of a woven capture, and
// of one that is not.
func Weakest(s *screen.Screen) (woven, plain float64, err error) {
	for _, a := range []*album{{woven: true}, {}} {
		a.screens = map[console.Frame]*screen.Screen{1: s}
		got, err := a.choose(moment{frame: 1}, nil)
		if err != nil || len(got) == 0 {
			return 0, 0, err
		}
		if a.woven {
			woven = got[0].weakest
		} else {
			plain = got[0].weakest
		}
	}
	return woven, plain, nil
}

// MadeDraft is a draft with one checkpoint on a cut of a screen.
func MadeDraft(o Options, name string, at specs.Moment, picture *screen.Screen) *Draft {
	d := &Draft{Options: o, Items: []Item{{
		Name: name, At: at, choice: &choice{candidate: candidate{in: picture.Bounds()}, picture: picture, weakest: 1},
		about: []string{"made\nfor a test", "tab\tand \u2028 separator"},
	}}}
	d.nameFiles()
	return d
}

// FileNames are the names of the templates of a draft whose anchor and checkpoints
// have these names.
func FileNames(prefix, anchor string, names ...string) []string {
	d := &Draft{Options: Options{Prefix: prefix}, Anchor: &Item{Name: anchor}}
	for _, n := range names {
		d.Items = append(d.Items, Item{Name: n})
	}
	d.nameFiles()
	var out []string
	for _, i := range d.all() {
		out = append(out, i.file)
	}
	return out
}
