package judge

import (
	"context"

	"latchproof/vision"
	"latchproof/vision/screen"
)

// Screens brings the wanted pictures of a capture to the raster, in the order of
// their capture indexes, and hands them to see; want is asked with a capture
// index, nil wants all. Of the input it uses Video, Console, Active and Fields.
// The screen belongs to see only until it returns. A picture that could not be
// decoded is left out.
//
// Errors: those of vision (a capture that is cut short wraps
// vision.ErrTruncated), of the context, and of see, which ends it.
func Screens(ctx context.Context, in Input, want func(k int) bool, see func(k int, s *screen.Screen) error) error {
	video, err := vision.OpenVideo(in.Video)
	if err != nil {
		return err
	}
	defer video.Close()
	per := in.Fields.per()
	wanted := func(i int) bool {
		for k := i * per; k < (i+1)*per; k++ {
			if want == nil || want(k) {
				return true
			}
		}
		return false
	}
	r := newReel(video, in)
	return r.run(ctx, 0, wanted, func(p shot) error {
		defer r.recycle(p.s)
		if p.s == nil || want != nil && !want(p.k) {
			return nil
		}
		return see(p.k, p.s)
	})
}
