package judge

import (
	"context"
	"errors"
	"io"

	"latchproof/harness/lockstep"
	"latchproof/vision"
	"latchproof/vision/screen"
)

// depth is how many pictures may wait between two stages.
const depth = 4

// shot is one capture picture on the raster.
type shot struct {
	k       int            // capture index
	s       *screen.Screen // nil when it could not be decoded
	equal   bool           // the same to the last bit as the one before
	damaged bool           // by the decoder
	mixed   bool           // its chroma is that of two fields together
	away    bool           // there is such a picture, but it is not on the shelf
}

// extract makes the features of the picture. Chroma that two fields share is of
// two frames, so nothing is said of it: which frames they are differs from run
// to run.
func (p shot) extract(dst lockstep.Features) lockstep.Features {
	dst = lockstep.Extract(p.s, dst)
	if p.mixed {
		dst.Greyed()
	}
	return dst
}

// reel runs the stages: decoding, bringing to the raster, and the caller's own.
type reel struct {
	video  *vision.Video
	fields Fields
	norm   vision.Normalizer
	pool   chan *screen.Screen
}

func newReel(v *vision.Video, in Input) *reel {
	return &reel{
		video: v, fields: in.Fields, pool: make(chan *screen.Screen, 4*depth+2*ahead),
		norm: vision.Normalizer{Active: in.Active, W: in.Console.Width, H: in.Console.Height},
	}
}

// recycle takes a screen back that nobody holds.
func (r *reel) recycle(s *screen.Screen) {
	if s == nil {
		return
	}
	select {
	case r.pool <- s:
	default:
	}
}

func (r *reel) screen() *screen.Screen {
	select {
	case s := <-r.pool:
		return s
	default:
		return screen.New(r.norm.W, r.norm.H)
	}
}

// errEnough ends a run of the reel early without being an error.
var errEnough = errors.New("enough was seen")

// run hands the wanted pictures of the file from number from on, in order, to
// see; want is nil for all. Pictures that nobody wants are not brought to the
// raster, and not even decoded where a key picture lies between. An error of
// see ends it; errEnough without an error. A capture that is cut short is an
// error that wraps vision.ErrTruncated.
func (r *reel) run(ctx context.Context, from int, want func(picture int) bool, see func(shot) error) error {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	total := len(r.video.Scan().Stamps)
	pictures := make(chan *vision.Picture, depth)
	free := make(chan *vision.Picture, depth+3)
	for range cap(free) {
		free <- new(vision.Picture)
	}
	decodeDone, rasterDone := make(chan error, 1), make(chan error, 1)
	go func() {
		defer close(pictures)
		decodeDone <- r.decode(ctx, from, total, want, pictures, free)
	}()
	shots := make(chan shot, 2*depth)
	go func() {
		defer close(shots)
		rasterDone <- r.raster(ctx, pictures, free, shots)
	}()
	var failed error
	for p := range shots {
		if failed == nil {
			failed = ctx.Err()
		}
		if failed == nil {
			if failed = see(p); failed != nil {
				cancel(failed)
			}
		} else {
			r.recycle(p.s)
		}
	}
	decoding, bringing := <-decodeDone, <-rasterDone
	switch {
	case errors.Is(failed, errEnough):
		return nil
	case failed != nil:
		return failed
	case bringing != nil:
		return bringing
	}
	return decoding
}

func (r *reel) decode(ctx context.Context, from, total int, want func(int) bool, out, free chan *vision.Picture) error {
	next := -1
	for i := from; ; i++ {
		for want != nil && i < total && !want(i) {
			i++
		}
		if want != nil && i >= total {
			return nil
		}
		if i != next && i < total {
			if err := r.video.Seek(i); err != nil {
				return err
			}
		}
		var p *vision.Picture
		select {
		case p = <-free:
		case <-ctx.Done():
			return ctx.Err()
		}
		if err := r.video.Read(p); err != nil {
			free <- p
			if errors.Is(err, io.EOF) {
				return nil
			}
			return err
		}
		next = i + 1
		select {
		case out <- p:
		case <-ctx.Done():
			free <- p
			return ctx.Err()
		}
	}
}

// raster brings pictures to the raster. It frees them all when the stream ends.
func (r *reel) raster(ctx context.Context, in, free chan *vision.Picture, out chan<- shot) (err error) {
	var before *vision.Picture
	defer r.norm.Close()
	defer func() {
		for p := range in {
			p.Close()
		}
		if before != nil {
			before.Close()
		}
		for {
			select {
			case p := <-free:
				p.Close()
			default:
				return
			}
		}
	}()
	for p := range in {
		equal := before != nil && before.Index()+1 == p.Index() && p.Same(before)
		for f := range r.fields.per() {
			t := shot{k: p.Index()*r.fields.per() + f, equal: equal, damaged: p.Damaged(), mixed: r.fields.per() > 1 && p.SharedChroma()}
			if !p.Empty() {
				t.s = r.screen()
				if err := r.norm.Picture(p, r.fields.lines(f == 1), t.s); err != nil {
					if !p.Damaged() { // a damaged one may have any size
						p.Close()
						return err
					}
					r.recycle(t.s)
					t.s = nil
				}
			}
			// The reader always drains, so this never blocks for good.
			out <- t
		}
		if before != nil {
			free <- before
		}
		before = p
		if ctx.Err() != nil {
			return nil
		}
	}
	return nil
}
