package harness

import (
	"bytes"
	"context"
	"fmt"
	"image/png"

	"latchproof/harness/judge"
	"latchproof/harness/record"
	"latchproof/reports"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

// lookBack gives the pictures of frames of a run: decoded from its video, pixel
// for pixel what was judged and compared. Where there is no video, those that were
// kept while it was judged are given, as JPEG, with the error why the video could
// not be read. A frame that has no picture is left out.
func lookBack(ctx context.Context, r *Run, frames map[console.Frame]bool) (map[console.Frame]*reports.Picture, error) {
	out, err := decodeFrames(ctx, r, frames)
	if err == nil || r.Store == nil {
		return out, err
	}
	for f := range frames {
		if p := stored(r, f); p != nil && out[f] == nil {
			out[f] = p
		}
	}
	return out, err
}

func decodeFrames(ctx context.Context, r *Run, frames map[console.Frame]bool) (map[console.Frame]*reports.Picture, error) {
	out := map[console.Frame]*reports.Picture{}
	rec, err := record.OpenFiles(r.Dir, record.FramesFile)
	if err != nil {
		return out, err
	}
	in, err := recordedInput(rec)
	if err != nil {
		return out, err
	}
	at, taken := map[int]console.Frame{}, map[console.Frame]bool{}
	for _, row := range in.Known.Rows {
		if row.State == record.Fresh && frames[row.Frame] && !taken[row.Frame] {
			at[int(row.Index)], taken[row.Frame] = row.Frame, true
		}
	}
	if len(at) == 0 {
		return out, nil
	}
	enc := png.Encoder{CompressionLevel: png.BestSpeed}
	want := func(k int) bool { _, ok := at[k]; return ok }
	err = judge.Screens(ctx, in, want, func(k int, s *screen.Screen) error {
		var b bytes.Buffer
		if err := enc.Encode(&b, paletted(s.ToImage())); err != nil {
			return err
		}
		out[at[k]] = &reports.Picture{Data: b.Bytes(), Type: "image/png", Alt: fmt.Sprintf("%s at frame %d", r.Name, at[k]), W: s.W, H: s.H}
		return nil
	})
	return out, err
}
