package judge

import (
	"context"
	"errors"
	"fmt"

	"latchproof/harness/checks"
	"latchproof/harness/clock"
	"latchproof/vision"
)

// anchorWait is how many pictures are looked at for the anchor when nothing
// tells where it should be, and anchorLate how many frames after its frame it
// is given up when something does.
const (
	anchorWait = 3600
	anchorLate = 120
)

// seekAnchor looks for the first picture that shows the anchor, and makes the
// clock anew with it.
func (w *watcher) seekAnchor(ctx context.Context) error {
	known := w.placed()
	from := 0
	if known {
		for from < len(w.stamps) && w.clock.Captures[from].Frame < w.anchor.Frame-anchorLate {
			from++
		}
	}
	shown := false
	first := true
	repeats := 0 // pictures just before that may be the one before them again
	see := func(p shot) error {
		defer w.reel.recycle(p.s)
		if p.k >= len(w.stamps) {
			return errEnough
		}
		a := w.clock.Captures[p.k]
		if p.away {
			first, repeats = true, 0
			return nil
		}
		if p.s == nil || p.damaged {
			repeats++
			return nil
		}
		if known && a.State == clock.Outside && a.Frame <= 0 {
			return nil // before the run: an old screen may still be up
		}
		sight, err := w.anchor.Check.(checks.Check).Look(p.s)
		if err != nil {
			return fmt.Errorf("anchor: %w", err)
		}
		if sight.Holds && !shown && !first {
			w.anchored = &clock.Anchor{Frame: w.anchor.Frame, Capture: p.k, Skip: repeats}
			return errEnough
		}
		shown, first = sight.Holds, false
		if repeats++; !p.equal && !w.stale[p.k] {
			repeats = 0
		}
		if known && a.Frame > w.anchor.Frame+anchorLate || !known && p.k >= anchorWait {
			return errEnough
		}
		return nil
	}
	err := w.reel.run(ctx, from/w.in.Fields.per(), nil, see)
	if err != nil && !errors.Is(err, vision.ErrTruncated) {
		return err
	}
	if w.anchored == nil {
		w.noAnchor()
		return nil
	}
	return w.build()
}

// placed says whether the clock knows without the anchor where the frames are.
func (w *watcher) placed() bool {
	return len(w.in.Latches) > 0 && w.in.Latency.Known() && w.clock.State == clock.Measured
}

// noAnchor goes on without the anchor. A calibrated clock stands on its own
// feet; another one has lost its only hold.
func (w *watcher) noAnchor() {
	if w.placed() {
		w.problem("the anchor never appeared near frame %d; the calibrated latency alone ties the pictures to the frames", w.anchor.Frame)
		return
	}
	w.distrust(fmt.Sprintf("the anchor of frame %d never appeared, and nothing else ties the pictures to the frames", w.anchor.Frame))
}
