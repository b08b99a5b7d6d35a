package evidence

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"

	"latchproof/harness/checks"
	"latchproof/harness/judge"
	"latchproof/specs"
)

// ErrDiffers says that judging anew gives something else than was said.
var ErrDiffers = errors.New("judging anew gives something else")

// tolerance is by how much numbers that were computed in floating point may be
// apart: another processor adds up in another order.
const tolerance = 1e-6

// Same holds verdicts that were told against those found anew, one for every
// checkpoint of the spec; whole says that these are from the video and not from
// kept pictures, so that counts are held against each other, too. Sentences are
// not compared. The error is ErrDiffers, and names the first difference.
func Same(s *specs.Spec, told, found []judge.Result, whole bool) error {
	if len(told) != len(s.Checkpoints) || len(found) != len(s.Checkpoints) {
		return fmt.Errorf("%w: %d checkpoints, %d verdicts told and %d found", ErrDiffers, len(s.Checkpoints), len(told), len(found))
	}
	for i, t := range told {
		if c, ok := s.Checkpoints[i].Check.(checks.Series); ok && !c.Every() && found[i].Away > 0 && t.Verdict != judge.Fail {
			continue // a stretch somewhere in the range is seen in all its pictures or not at all
		}
		if what, a, b := differs(t, found[i], whole); what != "" {
			return fmt.Errorf("%w: checkpoint %q: %s is told as %v and found as %v", ErrDiffers, t.Name, what, a, b)
		}
	}
	return nil
}

// differs names the first thing in which two results differ.
func differs(t, f judge.Result, whole bool) (what string, told, found any) {
	verdict := f.Verdict
	if f.Away > 0 && f.Held {
		verdict = judge.Pass // as far as the kept pictures tell
	}
	counted := whole || t.From == t.To
	for _, c := range []struct {
		what        string
		told, found any
		ask         bool
	}{
		{"its name", t.Name, f.Name, true},
		{"its kind", t.Kind, f.Kind, true},
		{"the first frame", t.From, f.From, true},
		{"the last frame", t.To, f.To, true},
		{"the verdict", t.Verdict, verdict, true},
		{"the frame that decided", t.Frame, f.Frame, true},
		{"the number of frames without a picture", t.Missed, f.Missed, counted},
		{"the number of pictures that do not tell", t.Unsure, f.Unsure, counted},
		{"the clock", t.Clock, f.Clock, true},
		{"where the threshold comes from", t.ThresholdBy, f.ThresholdBy, true},
		{"the place", place(t.At), place(f.At), true},
		{"what was read", value(t.Value), value(f.Value), true},
	} {
		if c.ask && c.told != c.found {
			return c.what, c.told, c.found
		}
	}
	score := func(r judge.Result) float64 {
		if r.Score == nil {
			return math.Inf(-1)
		}
		return *r.Score
	}
	for _, c := range []struct {
		what        string
		told, found float64
	}{
		{"the score", score(t), score(f)},
		{"the threshold", t.Threshold, f.Threshold},
		{"the noise", t.Noise, f.Noise},
	} {
		if !Near(c.told, c.found) {
			return c.what, c.told, c.found
		}
	}
	return "", nil, nil
}

// Near says whether two numbers are the same but for the order in which a
// processor adds up.
func Near(a, b float64) bool {
	return a == b || math.Abs(a-b) <= tolerance*max(1, math.Abs(a), math.Abs(b))
}

func place(p *judge.Point) judge.Point {
	if p == nil {
		return judge.Point{-1, -1}
	}
	return *p
}

// value makes what was read from JSON and what was read from a screen alike.
func value(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		return fmt.Sprint(v)
	}
	return string(b)
}

// SameTime holds a timing that was told against one found anew; either may be
// nil. The error is ErrDiffers, and names the first difference.
func SameTime(told, found *judge.Timing) error {
	if (told == nil) != (found == nil) {
		return fmt.Errorf("%w: one has a timing and the other has none", ErrDiffers)
	}
	if told == nil {
		return nil
	}
	type event struct {
		says         string
		frame, since int64
	}
	of := func(e *judge.EventTime) event {
		if e == nil {
			return event{frame: -1}
		}
		return event{e.Event, int64(e.Frame), int64(e.Since)}
	}
	for _, c := range []struct {
		what        string
		told, found any
	}{
		{"the verdict", told.Verdict, found.Verdict},
		{"the first event", of(told.From), of(found.From)},
		{"the second event", of(told.To), of(found.To)},
		{"the time", told.Frames, found.Frames},
		{"the shortest time", told.Low, found.Low},
		{"the longest time", told.High, found.High},
		{"the clock", told.Clock, found.Clock},
	} {
		if c.told != c.found {
			return fmt.Errorf("%w: timing: %s is told as %v and found as %v", ErrDiffers, c.what, c.told, c.found)
		}
	}
	for _, c := range [][2]float64{{told.Seconds, found.Seconds}, {told.SecondsLow, found.SecondsLow}, {told.SecondsHigh, found.SecondsHigh}} {
		if !Near(c[0], c[1]) {
			return fmt.Errorf("%w: timing: %v seconds are told and %v found", ErrDiffers, c[0], c[1])
		}
	}
	return nil
}
