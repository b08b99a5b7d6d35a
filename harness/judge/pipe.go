package judge

import (
	"context"
	"errors"
	"io"
	"time"

	"latchproof/vision"
	"latchproof/vision/screen"
)

// depth is how many pictures may wait between two stages.
const depth = 8

type decoded struct {
	img   *vision.Image
	stamp time.Duration
}

type images struct {
	out  chan decoded
	free chan *vision.Image
}

// decode reads the video ahead. A decoding error ends the stream and becomes
// the cause of the context.
func (w *watcher) decode(ctx context.Context, cancel context.CancelCauseFunc) images {
	p := images{out: make(chan decoded, depth), free: make(chan *vision.Image, depth+2)}
	for range cap(p.free) {
		p.free <- vision.NewImage()
	}
	go func() {
		defer close(p.out)
		for {
			var img *vision.Image
			select {
			case img = <-p.free:
			case <-ctx.Done():
				return
			}
			err := w.video.Next(img)
			if err != nil {
				p.free <- img
				if !errors.Is(err, io.EOF) {
					cancel(err)
				}
				return
			}
			select {
			case p.out <- decoded{img, w.video.Stamp()}:
			case <-ctx.Done():
				p.free <- img
				return
			}
		}
	}()
	return p
}

type normalised struct {
	s     *screen.Screen
	stamp time.Duration
}

type screens struct {
	out  chan normalised
	pool chan *screen.Screen
}

// recycle takes a screen back that nobody holds.
func (p screens) recycle(s *screen.Screen) {
	select {
	case p.pool <- s:
	default:
	}
}

// normalise brings pictures to the raster. It frees the images when the stream
// ends. After an error the stages before it are stopped through the context;
// pictures decoded before a decoding error still come through.
func normalise(ctx context.Context, cancel context.CancelCauseFunc, in images, n vision.Normalizer) screens {
	p := screens{out: make(chan normalised, depth), pool: make(chan *screen.Screen, 2*depth)}
	go func() {
		defer close(p.out)
		defer n.Close()
		defer func() {
			for d := range in.out {
				in.free <- d.img
			}
			for range cap(in.free) {
				(<-in.free).Close()
			}
		}()
		for d := range in.out {
			var s *screen.Screen
			select {
			case s = <-p.pool:
			default:
				s = screen.New(n.W, n.H)
			}
			err := n.Screen(d.img, s)
			in.free <- d.img
			if err != nil {
				cancel(err)
				return
			}
			// The reader always drains, so this never blocks for good.
			p.out <- normalised{s, d.stamp}
			if err := ctx.Err(); err != nil && !errors.Is(context.Cause(ctx), vision.ErrTruncated) {
				return
			}
		}
	}()
	return p
}
