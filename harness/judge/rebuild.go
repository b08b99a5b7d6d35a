package judge

import (
	"context"
	"errors"
	"fmt"

	"latchproof/harness/lockstep"
	"latchproof/harness/record"
	"latchproof/vision"
	"latchproof/vision/screen"
)

// Rebuild makes the trace of a run anew from its video, when the trace is
// damaged: in.Known.Rows says which picture stands for which frame, so that no
// clock is needed. Of the input Video, Console, Active, Fields, Known, Trace and
// Progress are used. The same video gives the same trace, byte for byte, as long
// as the decoder and the format are the same.
func Rebuild(ctx context.Context, in Input) error {
	video, err := vision.OpenVideo(in.Video)
	if err != nil {
		return err
	}
	defer video.Close()
	layout := lockstep.Layout{W: in.Console.Width, H: in.Console.Height}
	trace, err := lockstep.NewTraceWriter(in.Trace, layout)
	if err != nil {
		return err
	}
	rows := in.Known.Rows
	per := in.Fields.per()
	if n := len(video.Scan().Stamps) * per; n < len(rows) {
		return fmt.Errorf("%s: %w: it has %d pictures, and frames.csv says %d", in.Video, vision.ErrTruncated, n, len(rows))
	}
	fresh := func(k int) bool { return k < len(rows) && rows[k].State == record.Fresh }
	want := func(i int) bool {
		for f := range per {
			if fresh(i*per + f) {
				return true
			}
		}
		return false
	}
	r := newReel(video, in)
	var features lockstep.Features
	err = r.run(ctx, 0, want, func(p shot) error {
		defer r.recycle(p.s)
		if in.Progress != nil && p.k%32 == 0 {
			in.Progress(p.k)
		}
		switch {
		case !fresh(p.k):
			return nil
		case p.s == nil:
			return fmt.Errorf("%s: picture %d cannot be decoded", in.Video, p.k)
		}
		features = p.extract(features)
		return trace.AddFeatures(rows[p.k].Frame, lockstep.Seen, features)
	})
	if errors.Is(err, vision.ErrTruncated) {
		err = nil // all pictures that frames.csv knows are there
	}
	return errors.Join(err, trace.Close())
}

// ScreenOf brings one capture picture to the raster, as Watch does. Of the input
// Video, Console, Active and Fields are used. It gives ErrUnseen when the capture
// has no such picture or it cannot be decoded.
func ScreenOf(ctx context.Context, in Input, k int) (*screen.Screen, error) {
	var found *screen.Screen
	err := Screens(ctx, in, func(i int) bool { return i == k }, func(_ int, s *screen.Screen) error {
		found = s.Clone()
		return nil
	})
	if err == nil && found == nil {
		err = fmt.Errorf("%s: picture %d: %w", in.Video, k, ErrUnseen)
	}
	return found, err
}
