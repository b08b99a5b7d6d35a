package evidence

import (
	"context"
	"fmt"

	"latchproof/harness/judge"
	"latchproof/vision/screen"
)

// Rest is something that only the video can tell.
type Rest struct {
	What string `json:"what"` // name of a checkpoint, or "timing"
	Why  string `json:"why"`
}

// TimingRest is the What of the timing.
const TimingRest = "timing"

// Judged is what judging a run anew from kept pictures gave.
type Judged struct {
	*judge.Watched
	Rests []Rest
}

// Judge judges a run from kept pictures by their capture index instead of its
// video, which is not opened. in is as for Collect; Trace and Store are not used.
// Errors: those of judge.Watch.
func Judge(ctx context.Context, in judge.Input, screens map[int]*screen.Screen) (*Judged, error) {
	in.Video, in.Trace, in.Store = "", nil, nil
	in.Shelf = func(k int) (*screen.Screen, error) { return screens[k], nil }
	w, err := judge.Watch(ctx, in)
	if err != nil {
		return nil, err
	}
	out := &Judged{Watched: w}
	for _, r := range w.Results {
		if r.Away > 0 {
			out.Rests = append(out.Rests, Rest{r.Name, fmt.Sprintf("%d pictures of frames %d to %d are in the video alone", r.Away, r.From, r.To)})
		}
	}
	if t := w.Timing; t != nil {
		switch {
		case t.From == nil || t.To == nil:
			out.Rests = append(out.Rests, Rest{TimingRest, t.Why})
		case t.From.Away > 0 || t.To.Away > 0:
			out.Rests = append(out.Rests, Rest{TimingRest, "that neither event came sooner is in the video alone"})
		}
	}
	return out, nil
}
