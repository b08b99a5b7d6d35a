package vision

// #include <libavutil/imgutils.h>
// #include "libav.h"
// #include "resample.h"
import "C"

import "unsafe"

// planesOf copies the planes one after the other, rows without gaps, as
// FFmpeg's "rawvideo" does; nil when there are none. It is for the tests, which
// cannot use cgo.
func planesOf(p *Picture) []byte {
	if p.frame == nil {
		return nil
	}
	f := p.frame
	n := C.av_image_get_buffer_size(C.enum_AVPixelFormat(f.format), f.width, f.height, 1)
	if n <= 0 {
		return nil
	}
	out := make([]byte, n)
	C.av_image_copy_to_buffer((*C.uint8_t)(&out[0]), n, (**C.uint8_t)(unsafe.Pointer(&f.data[0])), &f.linesize[0],
		C.enum_AVPixelFormat(f.format), f.width, f.height, 1)
	return out
}

// resampleWays allows only some of the ways of resampling, bits of resample.h,
// and says which of them this machine can do. It is for the tests too.
func resampleWays(allowed int) int { return int(C.lp_resample_ways(C.int(allowed))) }
