package vision

// #include "libav.h"
// #include "resample.h"
import "C"

import (
	"image"
	"sync/atomic"
	"time"
)

// Picture is a decoded picture as the decoder gives it. The zero value holds
// none. It shares the decoder's memory, so it stays valid when others are read
// and when the video is closed; call Close, or read the next one into it. A
// Picture is not safe for use by several goroutines at once, but different
// ones are.
type Picture struct {
	frame   *C.AVFrame // nil: no pixels
	size    image.Point
	index   int
	stamp   time.Duration
	damaged bool
	order   C.enum_AVFieldOrder // what the container says
}

// frames counts the frames that are held, for the tests.
var frames atomic.Int64

func newFrame() *C.AVFrame {
	f := C.av_frame_alloc()
	if f == nil {
		panic("vision: out of memory")
	}
	frames.Add(1)
	return f
}

func freeFrame(f *C.AVFrame) {
	if f != nil {
		C.av_frame_free(&f)
		frames.Add(-1)
	}
}

// Close frees the picture, which can be read into again afterwards.
func (p *Picture) Close() error {
	freeFrame(p.frame)
	*p = Picture{}
	return nil
}

// Empty says whether there are no pixels: nothing was read, or the picture
// could not be decoded at all (it is Damaged then, and still has its index,
// stamp and the size that the file promises).
func (p *Picture) Empty() bool { return p.frame == nil }

// Size is width and height in pixels.
func (p *Picture) Size() image.Point { return p.size }

// Index is the number of the picture in the order of showing, from 0.
func (p *Picture) Index() int { return p.index }

// Stamp is the presentation time, counted from the first picture of the video.
func (p *Picture) Stamp() time.Duration { return p.stamp }

// Damaged says that the picture is not what was recorded: its packet was cut
// or could not be decoded or only in part, or a picture that it is predicted
// from was so, or it has another size than the video. What a decoder cannot
// notice is not reported.
func (p *Picture) Damaged() bool { return p.damaged }

// Interlaced says whether the stream calls the picture woven from two fields,
// and if so, whether the top one (rows 0, 2, 4...) is the first in time.
func (p *Picture) Interlaced() (woven, topFirst bool) {
	if p.frame != nil && p.frame.interlaced_frame != 0 {
		return true, p.frame.top_field_first != 0
	}
	switch p.order {
	case C.AV_FIELD_TT, C.AV_FIELD_BT: // the second letter is the field shown first
		return true, true
	case C.AV_FIELD_BB, C.AV_FIELD_TB:
		return true, false
	}
	return false, false
}

// SharedChroma says whether the chroma of a field is a mixture with the other
// field's: the format has chroma for every second row only, and the codec did
// not code the fields apart. What it means for a picture that was not woven is
// nothing.
func (p *Picture) SharedChroma() bool {
	var l C.lp_layout
	return p.frame != nil && C.lp_layout_of(p.frame, &l) != 0 && l.shift_y > 0 && p.frame.interlaced_frame == 0
}

// Same says whether both have the same size, the same format and the same
// pixels, to the last bit. A picture without pixels is the same as none.
func (p *Picture) Same(other *Picture) bool {
	return p.frame != nil && other.frame != nil && C.lp_same(p.frame, other.frame) != 0
}
