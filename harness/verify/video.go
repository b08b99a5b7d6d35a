package verify

import (
	"bytes"

	"latchproof/harness/evidence"
	"latchproof/harness/judge"
	"latchproof/harness/lockstep"
)

// video judges a run wholly anew from its video, without what the maker found of
// its pictures.
func (v *verifier) video(r *run) (string, error) {
	in := r.in
	in.Video, in.Known = v.videos[r.name], nil
	var trace bytes.Buffer
	in.Trace = &trace
	w, err := judge.Watch(v.ctx, in)
	if err != nil {
		return "", plainly(err)
	}
	if err := evidence.Same(v.claim.Spec, r.told.Checkpoints, w.Results, true); err != nil {
		return "", err
	}
	if err := evidence.SameTime(r.told.Timing, w.Timing); err != nil {
		return "", err
	}
	if at := differ(r.told.Clock, w.Clock.Summary()); at != "" {
		return "", broken("the clock is not the one that the video gives: %s", at)
	}
	if len(w.Rows) != len(r.in.Known.Rows) {
		return "", broken("frames.csv has %d pictures, and the video %d", len(r.in.Known.Rows), len(w.Rows))
	}
	for i, row := range r.in.Known.Rows {
		if got := w.Rows[i]; got != row {
			return "", broken("picture %d is %s in frames.csv, and %s by the video", i, rowText(row), rowText(got))
		}
	}
	t, err := lockstep.ReadTrace("the video's trace", bytes.NewReader(trace.Bytes()), int64(trace.Len()))
	if err != nil {
		return "", err
	}
	return "judged wholly anew", sameTraces(r.trace, t)
}
