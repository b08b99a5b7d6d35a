package vision

// #include "still.h"
import "C"

import (
	"fmt"
	"image"
	"unsafe"
)

// RawFormat is how the bytes of a picture that comes alone are to be
// understood.
type RawFormat string

// The formats, by the names that bench files use.
const (
	// RawMJPEG is a JPEG picture of its own; the tables may be left out, as
	// cards do that keep to the usual ones.
	RawMJPEG RawFormat = "mjpeg"
	// RawYUYV is Y0 Cb Y1 Cr for every two pixels, rows without gaps. Limited
	// range.
	RawYUYV RawFormat = "yuyv"
	// RawNV12 is a plane of Y and one of Cb, Cr in turn with half the columns
	// and rows, without gaps. Limited range.
	RawNV12 RawFormat = "nv12"
	// RawBGR is three bytes B, G, R for every pixel, rows without gaps.
	RawBGR RawFormat = "bgr"
)

func (f RawFormat) av() (codec C.enum_AVCodecID, format C.enum_AVPixelFormat, err error) {
	switch f {
	case RawMJPEG:
		return C.AV_CODEC_ID_MJPEG, C.AV_PIX_FMT_NONE, nil
	case RawYUYV:
		return C.AV_CODEC_ID_NONE, C.AV_PIX_FMT_YUYV422, nil
	case RawNV12:
		return C.AV_CODEC_ID_NONE, C.AV_PIX_FMT_NV12, nil
	case RawBGR:
		return C.AV_CODEC_ID_NONE, C.AV_PIX_FMT_BGR24, nil
	}
	return 0, 0, fmt.Errorf("unknown format of pictures %q", string(f))
}

// Bytes is how many bytes a picture of that size has; 0 for a format whose
// pictures vary, and for a size that is none.
func (f RawFormat) Bytes(size image.Point) int {
	codec, format, err := f.av()
	if err != nil || codec != C.AV_CODEC_ID_NONE {
		return 0
	}
	return max(0, int(C.lp_raw_size(format, C.int(size.X), C.int(size.Y))))
}

// Still decodes pictures that come one by one from no file: those of a capture
// card. It holds memory of the native library: call Close. It is not safe for
// use by several goroutines at once.
type Still struct {
	still *C.lp_still
	size  image.Point
	count int
}

// NewStill makes a decoder for pictures of a format and size (both sides even).
// Errors: ErrSize, or that the format is unknown.
func NewStill(f RawFormat, size image.Point) (*Still, error) {
	codec, format, err := f.av()
	if err != nil {
		return nil, err
	}
	if size.X < 2 || size.Y < 2 || size.X%2 != 0 || size.Y%2 != 0 || size.X > 16384 || size.Y > 16384 {
		return nil, fmt.Errorf("%w: %dx%d, both sides must be even", ErrSize, size.X, size.Y)
	}
	s := &Still{size: size}
	if r := C.lp_still_open(&s.still, codec, format, C.int(size.X), C.int(size.Y)); r < 0 {
		return nil, fmt.Errorf("no decoder for %s: %w", string(f), errLibrary(r))
	}
	return s, nil
}

// Decode makes a picture of its bytes, freeing what was in p. The pictures are
// numbered from 0 and have no stamp. Bytes that are no such picture give one
// that is Damaged; it has pixels only as far as the decoder could make some.
func (s *Still) Decode(data []byte, p *Picture) {
	p.Close()
	*p = Picture{size: s.size, index: s.count, damaged: true}
	s.count++
	if len(data) == 0 {
		return
	}
	f := newFrame()
	var bad C.int
	r := C.lp_still_decode(s.still, (*C.uint8_t)(unsafe.Pointer(&data[0])), C.int(len(data)), f, &bad)
	if r < 0 || int(f.width) != s.size.X || int(f.height) != s.size.Y {
		freeFrame(f)
		return
	}
	p.frame, p.damaged = f, bad != 0
}

// Close frees the decoder.
func (s *Still) Close() error {
	C.lp_still_close(&s.still)
	return nil
}
