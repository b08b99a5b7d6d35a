package evidence

import (
	"context"
	"errors"
	"fmt"

	"latchproof/harness/clock"
	"latchproof/harness/judge"
	"latchproof/harness/record"
	"latchproof/specs/console"
	"latchproof/vision"
	"latchproof/vision/screen"
)

// Picture is a kept picture.
type Picture struct {
	Index int           // in the capture, from 0
	Frame console.Frame // that it stands for, or record.NoFrame
	PNG   []byte
}

// Kept is what was kept of a run.
type Kept struct {
	Pictures []Picture // by index, ascending
	Rests    []Rest    // what only the video can tell all the same
}

// Collect takes the pictures that the verdicts of a run rest on from its video,
// and judges the run anew from them to see what they do not tell. in is all that
// the run is judged from (Video, Stamps and Known.Rows among it), results and t
// what was found, c
// the frame clock.
//
// Errors: those of vision and of the context, and that what was kept gives other
// verdicts than results (ErrDiffers), which says that these are not of this video.
func Collect(ctx context.Context, in judge.Input, results []judge.Result, t *judge.Timing, c clock.Summary) (*Kept, error) {
	if in.Spec == nil || in.Known == nil {
		return nil, errors.New("pictures are kept of a run that was judged against a spec")
	}
	screens := map[int]*screen.Screen{}
	var out *Kept
	for back := 0; ; back = 4*back + 3 {
		keys := Wanted(in.Spec, in.Known.Rows, results, t, back)
		if err := take(ctx, in, keys, screens); err != nil {
			return nil, err
		}
		w, err := Judge(ctx, in, screens)
		if err != nil {
			return nil, err
		}
		if err := Same(in.Spec, results, w.Results, false); err != nil {
			return nil, err
		}
		out = &Kept{Rests: w.Rests}
		if SameTime(t, w.Timing) == nil && SameClock(c, w.Clock.Summary()) == nil || back >= MostEvent {
			break
		}
	}
	for k, row := range in.Known.Rows {
		s := screens[k]
		if s == nil {
			continue
		}
		src, err := Encode(s)
		if err != nil {
			return nil, err
		}
		out.Pictures = append(out.Pictures, Picture{k, row.Frame, src})
	}
	return out, nil
}

// take decodes the pictures that are not there yet.
func take(ctx context.Context, in judge.Input, keys []int, into map[int]*screen.Screen) error {
	want := map[int]bool{}
	for _, k := range keys {
		if into[k] == nil && in.Known.Rows[k].State != record.Damaged {
			want[k] = true
		}
	}
	if len(want) == 0 {
		return nil
	}
	err := judge.Screens(ctx, in, func(k int) bool { return want[k] }, func(k int, s *screen.Screen) error {
		into[k] = s.Clone()
		return nil
	})
	if err != nil && !errors.Is(err, vision.ErrTruncated) {
		return fmt.Errorf("keeping pictures: %w", err)
	}
	return nil
}
