package vision

// #include "libav.h"
import "C"

// maxWaiting bounds the decoded pictures that wait for one that is shown
// before them. H.264 lets at most 16 wait; more wait when the times in the file
// are wrong, and then the one that is missing counts as lost.
const maxWaiting = 64

// lag is how many packets more a decoder may be given before the picture of a
// packet must have come: 16 for the order of showing, one for each thread.
func (v *Video) lag() C.int64_t { return 16 + C.int64_t(v.dec.ctx.thread_count) + 2 }

// decode gives the frame of picture i, or nil when the decoder has none.
func (v *Video) decode(i int) *C.AVFrame {
	for {
		if f, ok := v.waiting[i]; ok {
			delete(v.waiting, i)
			return f
		}
		late := v.dec.fed - C.int64_t(v.index.packet[i])
		if v.drained || late > v.lag() || len(v.waiting) > maxWaiting {
			return nil
		}
		v.step()
	}
}

// step goes on by one frame or one packet. A second frame of the same packet
// takes the place of the first; one whose turn is over is lost.
func (v *Video) step() {
	f := newFrame()
	switch r := C.lp_decoder_step(v.dec, f); {
	case r == C.AVERROR_EOF:
		v.drained = true
	case r == 0 && f.pts >= 0 && f.pts < v.dec.packets:
		if f.decode_error_flags != 0 || f.flags&C.AV_FRAME_FLAG_CORRUPT != 0 || !v.fits(f) {
			C.lp_decoder_mark(v.dec, f.pts, f.pts+1, 1)
		}
		i := int(v.index.shown[f.pts])
		if i >= v.next {
			freeFrame(v.waiting[i])
			v.waiting[i] = f
			return
		}
	}
	freeFrame(f)
}

// fits says whether a frame has the size of the stream. A damaged header of a
// JPEG picture can say anything.
func (v *Video) fits(f *C.AVFrame) bool {
	return int(f.width) == v.index.Info.Width && int(f.height) == v.index.Info.Height
}

// damaged says whether the picture of packet k, or one that it may be predicted
// from, gave trouble. Decoding begins afresh at a key packet. A picture that
// follows a key picture in the file but is shown before it may be predicted
// from the key before that one too, and none of those shown later depends on
// it.
func (v *Video) damaged(k int) bool {
	if v.bad(k) {
		return true
	}
	x := v.index
	key := x.key[k]
	if key < 0 {
		key = 0
	}
	from, leading := key, x.shown[k] < x.shown[key]
	if leading && key > 0 {
		from = max(x.key[key-1], 0)
	}
	for j := int(from); j < k; j++ {
		if !v.bad(j) || x.packets[j].flags&C.LP_DISPOSABLE != 0 {
			continue
		}
		// A leading picture of a key harms other leading pictures only.
		if own := max(x.key[j], 0); x.shown[j] < x.shown[own] && (!leading || own != key) {
			continue
		}
		return true
	}
	return false
}

func (v *Video) bad(k int) bool { return C.lp_decoder_bad(v.dec, C.int64_t(k)) != 0 }

// drop forgets what was decoded ahead.
func (v *Video) drop() {
	for i, f := range v.waiting {
		freeFrame(f)
		delete(v.waiting, i)
	}
}
