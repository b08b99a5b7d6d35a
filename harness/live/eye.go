package live

import (
	"image"

	"latchproof/harness/judge"
	"latchproof/specs/console"
	"latchproof/vision"
	"latchproof/vision/screen"
)

// eye brings the pictures of a card to the raster. Every picture is decoded
// once.
type eye struct {
	fields judge.Fields
	norm   vision.Normalizer
	still  *vision.Still
	size   image.Point
	format Format
	pic    vision.Picture
	pool   []*screen.Screen
}

func newEye(p console.Profile, active image.Rectangle, fields judge.Fields) *eye {
	return &eye{fields: fields, norm: vision.Normalizer{Active: active, W: p.Width, H: p.Height}}
}

// look gives the screens of a picture: one, or one for each field, first in time
// first; none for a picture that is damaged.
func (e *eye) look(b Buffer) ([]*screen.Screen, error) {
	if b.Flags&Damaged != 0 {
		return nil, nil
	}
	size := b.Size
	if b.Format == MJPEG && size == (image.Point{}) {
		var err error
		if size, err = vision.JPEGSize(b.Data); err != nil {
			return nil, nil // damaged
		}
	}
	if e.still == nil || e.size != size || e.format != b.Format {
		if e.still != nil {
			e.still.Close()
		}
		var err error
		if e.still, err = vision.NewStill(b.Format, size); err != nil {
			e.still = nil
			return nil, err
		}
		e.size, e.format = size, b.Format
	}
	e.still.Decode(b.Data, &e.pic)
	if e.pic.Damaged() {
		return nil, nil
	}
	lines := []vision.Lines{vision.AllLines}
	switch e.fields {
	case judge.TopFirst:
		lines = []vision.Lines{vision.TopLines, vision.BottomLines}
	case judge.BottomFirst:
		lines = []vision.Lines{vision.BottomLines, vision.TopLines}
	}
	out := make([]*screen.Screen, len(lines))
	for i, l := range lines {
		out[i] = e.screen()
		if err := e.norm.Picture(&e.pic, l, out[i]); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func (e *eye) screen() *screen.Screen {
	if n := len(e.pool); n > 0 {
		s := e.pool[n-1]
		e.pool = e.pool[:n-1]
		return s
	}
	return screen.New(e.norm.W, e.norm.H)
}

func (e *eye) recycle(s *screen.Screen) { e.pool = append(e.pool, s) }

func (e *eye) close() {
	e.pic.Close()
	if e.still != nil {
		e.still.Close()
		e.still = nil
	}
	e.norm.Close()
}
