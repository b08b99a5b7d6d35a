package vision

// #include "encode.h"
// #include "still.h"
import "C"

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"time"
	"unsafe"
)

// WriteCodedAt appends the bytes that a card gave for a picture to an MJPEG
// recording, byte for byte and without looking at them: a damaged picture is
// evidence too, and the reader of the file will tell. A time that is not at
// least 1 ms after the picture before becomes that; the exact instants belong
// elsewhere. It gives ErrNoPicture for no bytes, and the errors of WriteJPEG.
func (r *Recorder) WriteCodedAt(data []byte, at time.Duration) error {
	if err := r.stopped(); err != nil {
		return err
	}
	switch {
	case len(data) == 0:
		return fmt.Errorf("%s: %w", r.path, ErrNoPicture)
	case r.to.options.Codec != MJPEG:
		return fmt.Errorf("%s: %w: it is not a recording in Motion JPEG", r.path, ErrNotJPEG)
	}
	at = r.after(at)
	return r.counted(r.to.append(data, milliseconds(at), true), at)
}

// WriteRawAt appends a picture in RawYUYV to an FFV1 recording in 4:2:2, or one
// in RawNV12 to one in 4:2:0: every sample is kept as it is. The time is as in
// WriteCodedAt. It gives ErrSize when the bytes are not those of one picture.
func (r *Recorder) WriteRawAt(data []byte, f RawFormat, at time.Duration) error {
	if err := r.stopped(); err != nil {
		return err
	}
	o := r.to.options
	if o.Codec != FFV1 || !(f == RawYUYV && o.Chroma == Chroma422 || f == RawNV12 && o.Chroma == Chroma420) {
		return fmt.Errorf("%s: %w: a recording in %s %s does not keep %s as it is", r.path, ErrNotWritten, o.Codec, o.Chroma, string(f))
	}
	if want := f.Bytes(r.size); len(data) != want {
		return fmt.Errorf("%s: %w: %d bytes for a picture of %dx%d in %s, which has %d", r.path, ErrSize, len(data), r.size.X, r.size.Y, string(f), want)
	}
	at = r.after(at)
	return r.counted(r.to.writeRaw(data, f, milliseconds(at)), at)
}

// after is the time itself, or the earliest that can follow the last picture.
func (r *Recorder) after(at time.Duration) time.Duration {
	if r.count == 0 {
		return max(at, 0)
	}
	return max(at, r.last.Round(time.Millisecond)+time.Millisecond)
}

func (t *track) writeRaw(data []byte, f RawFormat, stamp int64) error {
	t.stamps[t.sent] = stamp
	if err := t.enc.sendRaw(data, f, t.sent); err != nil {
		return err
	}
	t.sent++
	return t.drain()
}

func (e *encoder) sendRaw(data []byte, f RawFormat, picture int64) error {
	_, format, err := f.av()
	if err != nil {
		return err
	}
	if r := C.av_frame_make_writable(e.enc.frame); r < 0 {
		return errLibrary(r)
	}
	if r := C.lp_raw_planes((*C.uint8_t)(unsafe.Pointer(&data[0])), format, e.enc.frame); r < 0 {
		return errLibrary(r)
	}
	e.enc.frame.pts = C.int64_t(picture)
	if r := C.avcodec_send_frame(e.enc.ctx, e.enc.frame); r < 0 {
		return errLibrary(r)
	}
	return nil
}

// JPEGSize is the size that the headers of a JPEG picture name. It gives
// ErrNotJPEG.
func JPEGSize(src []byte) (image.Point, error) {
	c, err := jpeg.DecodeConfig(bytes.NewReader(src))
	if err != nil {
		return image.Point{}, fmt.Errorf("%w: %w", ErrNotJPEG, err)
	}
	return image.Pt(c.Width, c.Height), nil
}
