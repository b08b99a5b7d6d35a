package vision

// #include <stdlib.h>
// #include "encode.h"
import "C"

import (
	"fmt"
	"strconv"
	"unsafe"
)

// encoder compresses pictures with FFmpeg.
type encoder struct{ enc *C.lp_encoder }

// packet is a compressed picture: its number in the order of showing, and
// whether decoding can start from it.
type packet struct {
	picture int64
	key     bool
	data    []byte
}

func newEncoder(o RecordOptions, w, h int, rate float64) (*encoder, error) {
	var options *C.AVDictionary
	defer func() { C.av_dict_free(&options) }()
	set := func(key, value string) {
		k, v := C.CString(key), C.CString(value)
		C.av_dict_set(&options, k, v, 0)
		C.free(unsafe.Pointer(k))
		C.free(unsafe.Pointer(v))
	}
	format, how, name := C.int(C.AV_PIX_FMT_BGR0), C.int(0), "ffv1"
	switch o.Chroma {
	case Chroma420:
		format = C.AV_PIX_FMT_YUV420P
	case Chroma422:
		format = C.AV_PIX_FMT_YUV422P
	case Chroma444:
		format = C.AV_PIX_FMT_YUV444P
	}
	switch o.Codec {
	case FFV1:
		set("level", "3")
		set("slicecrc", "1")
		set("g", "1")
		if o.Fast { // Golomb-Rice codes, the small context, slices for two threads
			set("coder", "rice")
			set("context", "0")
			set("slices", "4")
			set("threads", "2")
		}
	case H264:
		name = "libx264"
		set("preset", o.Preset)
		set("crf", strconv.Itoa(o.Quality))
		set("g", strconv.Itoa(o.Group))
		set("x264-params", "annexb=0")
	case MJPEG:
		name, how = "mjpeg", C.LP_BETWEEN|C.LP_FULL
		format = map[Chroma]C.int{Chroma420: C.AV_PIX_FMT_YUVJ420P, Chroma422: C.AV_PIX_FMT_YUVJ422P, Chroma444: C.AV_PIX_FMT_YUVJ444P}[o.Chroma]
		set("jpeg", strconv.Itoa(o.Quality))
	}
	woven := C.int(0)
	if o.Codec != MJPEG && o.Woven != NotWoven {
		how |= C.LP_BY_FIELD
		woven = map[Woven]C.int{TopFirst: 1, BottomFirst: 2}[o.Woven]
	}
	codec := C.CString(name)
	defer C.free(unsafe.Pointer(codec))
	e := &encoder{}
	// The period in 1/1000000; only the rate control looks at it.
	period := C.AVRational{num: 1e6, den: C.int(rate*1e6 + 0.5)}
	if r := C.lp_encoder_open(&e.enc, codec, C.enum_AVPixelFormat(format), how, C.int(w), C.int(h), period, woven, &options); r < 0 {
		return nil, fmt.Errorf("the encoder %s cannot be opened: %w", name, errLibrary(r))
	}
	return e, nil
}

// private is what a decoder needs before the first packet.
func (e *encoder) private() []byte {
	return C.GoBytes(unsafe.Pointer(e.enc.ctx.extradata), e.enc.ctx.extradata_size)
}

// send gives a picture, or nil at the end.
func (e *encoder) send(bgr []byte, picture int64) error {
	var p *C.uint8_t
	if bgr != nil {
		p = (*C.uint8_t)(&bgr[0])
	}
	if r := C.lp_encoder_send(e.enc, p, C.int64_t(picture)); r < 0 {
		return errLibrary(r)
	}
	return nil
}

// receive gives the next packet, valid until the next call; nil when there is
// none yet, or none any more.
func (e *encoder) receive() (*packet, error) {
	r := C.lp_encoder_receive(e.enc)
	switch {
	case r == -C.EAGAIN, r == C.AVERROR_EOF:
		return nil, nil
	case r < 0:
		return nil, errLibrary(r)
	}
	p := e.enc.pkt
	return &packet{
		picture: int64(p.pts), key: p.flags&C.AV_PKT_FLAG_KEY != 0,
		data: unsafe.Slice((*byte)(unsafe.Pointer(p.data)), p.size),
	}, nil
}

func (e *encoder) close() { C.lp_encoder_close(&e.enc) }
