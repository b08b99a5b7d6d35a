package vision

// #include "libav.h"
import "C"

import (
	"fmt"
	"sort"
)

// Seek makes a picture (from 0, in the order of showing; the number of pictures
// is the end) the next one that Read gives: exactly that one, and with the same
// pixels as when everything before is read. Decoding starts from a key picture
// before it. It gives ErrOutside, and ErrNoVideo when the file is gone.
func (v *Video) Seek(picture int) error {
	if v.dec == nil {
		return v.end
	}
	n := len(v.index.packet)
	if picture < 0 || picture > n {
		return fmt.Errorf("%s: %w: picture %d of %d", v.path, ErrOutside, picture, n)
	}
	v.end = nil
	from := v.index.start(picture)
	// Going on is cheaper than going back to the same key.
	if picture >= v.next && from <= int(v.dec.fed) && !v.drained {
		for v.next < picture {
			k := int(v.index.packet[v.next])
			f := v.decode(v.next)
			if f == nil {
				C.lp_decoder_mark(v.dec, C.int64_t(k), C.int64_t(k+1), 1)
			}
			freeFrame(f)
			v.next++
		}
		return nil
	}
	v.drop()
	v.next, v.drained = picture, false
	C.lp_decoder_flush(v.dec)
	C.lp_decoder_mark(v.dec, C.int64_t(from), v.dec.packets, 0)
	return v.goTo(from)
}

// start is the packet to decode from for a picture: that of the last key
// picture up to it. When pictures that come after that one in the file are
// shown before it, the decoder would miss what they are predicted from, and
// complain about them; then it is the key picture before.
func (x *index) start(picture int) int {
	i := sort.SearchInts(x.Keys, picture+1)
	if i == 0 {
		return 0
	}
	k := int(x.packet[x.Keys[i-1]])
	for j := k + 1; j < len(x.packets) && j <= k+1+x.delay && int(x.key[j]) == k; j++ {
		if x.shown[j] >= 0 && x.shown[j] < x.shown[k] && k > 0 {
			return int(max(x.key[k-1], 0))
		}
	}
	return k
}

// goTo makes packet k the next one that the decoder is given.
func (v *Video) goTo(k int) error {
	if v.jump(k) {
		return nil
	}
	// The index of the file is no use: read from the start.
	in, err := openInput(v.path, v.kind)
	if err != nil {
		v.end = cannotOpen(v.path, v.kind)
		return v.end
	}
	C.lp_input_close(&v.in)
	v.in, v.dec.in, v.dec.fed = in, in, 0
	for int(v.dec.fed) < k && C.lp_decoder_skip(v.dec) == 0 {
	}
	return nil
}

// jump tries the index of the file. Where that leads is known from the place of
// the packet that comes; it must not be behind packet k.
func (v *Video) jump(k int) bool {
	if v.places == nil {
		v.places = make(map[C.int64_t]int32, len(v.index.packets))
		for i, p := range v.index.packets {
			if _, twice := v.places[p.pos]; twice || p.pos < 0 {
				v.places[p.pos] = -1
				continue
			}
			v.places[p.pos] = int32(i)
		}
	}
	if C.lp_input_seek(v.in, v.index.packets[k].pts) < 0 {
		return false
	}
	if C.lp_input_read(v.in, v.dec.pkt) < 0 {
		return false
	}
	at, ok := v.places[v.dec.pkt.pos]
	if !ok || at < 0 || int(at) > k {
		C.av_packet_unref(v.dec.pkt)
		return false
	}
	v.dec.fed = C.int64_t(at)
	if int(at) == k {
		v.dec.held = 1
		return true
	}
	C.av_packet_unref(v.dec.pkt)
	v.dec.fed++
	for int(v.dec.fed) < k {
		if C.lp_decoder_skip(v.dec) < 0 {
			return false
		}
	}
	return true
}
