package judge

import (
	"errors"
	"image"

	"latchproof/harness/clock"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

// Verdict is what is said of a checkpoint or of a whole run.
type Verdict string

// The verdicts; see the package documentation.
const (
	Pass   Verdict = "pass"
	Fail   Verdict = "fail"
	Unseen Verdict = "unseen"
)

// ErrUnseen says that the capture has no picture of the frame asked for.
var ErrUnseen = errors.New("unseen")

// Point is a place on the raster; it is written as [x, y] in JSON.
type Point [2]int

// Result is the judgement of one checkpoint in one run.
type Result struct {
	Name    string        `json:"name"`
	Kind    string        `json:"kind"`
	Verdict Verdict       `json:"verdict"`
	Frame   console.Frame `json:"frame"` // frame that decided; for unseen the first one asked for
	Score   *float64      `json:"score,omitempty"`
	At      *Point        `json:"at,omitempty"`
	// Value is what was read (an int or a string) or measured ([2]int), or a text of
	// what was seen; nil for nothing.
	Value any    `json:"value,omitempty"`
	Why   string `json:"why"`
	// Clock is set when the frame clock is not a measured one.
	Clock string `json:"clock,omitempty"`

	Threshold float64 `json:"threshold,omitempty"`
	// ThresholdBy says where the threshold comes from, Noise is the noise of the
	// picture that it was derived from, levels.
	ThresholdBy string  `json:"threshold_by,omitempty"`
	Noise       float64 `json:"noise,omitempty"`
	// Unsure is how many pictures of the range did not tell whether it holds; they
	// count among Missed.
	Unsure int `json:"unsure,omitempty"`

	From      console.Frame `json:"from"` // the frames asked for
	To        console.Frame `json:"to"`
	Missed    int           `json:"missed"` // frames of the range with no picture that tells
	Describe  string        `json:"asks"`   // the checkpoint in words
	Templates []string      `json:"-"`      // template files, absolute
	// Away is how many pictures that could change the verdict were not on the shelf
	// (Input.Shelf): it is then Unseen, by those that were it would be Held.
	Away int             `json:"-"`
	Held bool            `json:"-"`
	Seen *screen.Screen  `json:"-"` // the picture that decided, nil when unseen
	Box  image.Rectangle `json:"-"` // best place found on it
}

// RunVerdict is what `judge --json` prints for a run.
type RunVerdict struct {
	Run         string        `json:"run"`
	Verdict     Verdict       `json:"verdict"`
	Checkpoints []Result      `json:"checkpoints"`
	Timing      *Timing       `json:"timing"` // null: the spec asks for none
	Clock       clock.Summary `json:"clock"`
	Captured    Counts        `json:"captured"`
	Problems    []string      `json:"problems,omitempty"`
}

// Counts says what became of the captured pictures and of the frames.
type Counts struct {
	Pictures int `json:"pictures"` // in the video
	Fresh    int `json:"fresh"`    // stand for a frame
	Repeats  int `json:"repeats"`  // the card delivered the last picture again
	Unsure   int `json:"unsure"`   // too near to a frame boundary
	Outside  int `json:"outside"`  // before frame 0 or after the last frame
	Damaged  int `json:"damaged"`  // torn, or not decoded whole
	Frames   int `json:"frames"`   // console frames of the run
	Unseen   int `json:"unseen"`   // of them, without a picture
}

// Worst joins verdicts: a fail is certain and outweighs unseen, which
// outweighs pass.
func Worst(vs ...Verdict) Verdict {
	worst := Pass
	for _, v := range vs {
		switch {
		case v == Fail:
			return Fail
		case v == Unseen:
			worst = Unseen
		}
	}
	return worst
}

// NewRunVerdict joins the judgements of a run; t is nil when no timing is asked
// for.
func NewRunVerdict(run string, results []Result, t *Timing, c clock.Summary, n Counts, problems []string) RunVerdict {
	rv := RunVerdict{Run: run, Checkpoints: results, Timing: t, Clock: c, Captured: n, Problems: problems}
	if rv.Checkpoints == nil {
		rv.Checkpoints = []Result{}
	}
	vs := make([]Verdict, len(results))
	for i, c := range results {
		vs[i] = c.Verdict
	}
	if t != nil {
		vs = append(vs, t.Verdict)
	}
	rv.Verdict = Worst(vs...)
	return rv
}
