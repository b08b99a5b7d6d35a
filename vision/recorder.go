package vision

import (
	"errors"
	"fmt"
	"image"
	"math"
	"os"
	"path/filepath"
	"strings"

	"gocv.io/x/gocv"
)

// Codec is how a Recorder compresses pictures.
type Codec string

// The codecs. Both keep every picture on its own, so a cut file loses only its
// end.
const (
	// MJPEG is small and fast, with some loss and half the colour resolution.
	MJPEG Codec = "MJPG"
	// FFV1 is exact (RFC 9043) and slow.
	FFV1 Codec = "FFV1"
)

// spare is the free space below which a Recorder stops, bytes.
const spare = 64 << 10

// Recorder writes pictures to a Matroska file. Close must be called, and its
// error heeded: only it knows whether everything was written. It is not safe
// for use by several goroutines at once.
type Recorder struct {
	path   string
	writer *gocv.VideoWriter
	size   image.Point
	count  int64
	failed error
}

// CreateVideo starts a recording of w by h pixels (both even) at rate hertz,
// replacing what was there. path must end in ".mkv". The rate in the file is
// exact to 0.001 Hz and the stamps in it to 1 ms: when the instants matter,
// keep them apart. Errors wrap ErrNotWritten.
func CreateVideo(path string, codec Codec, w, h int, rate float64) (*Recorder, error) {
	fail := func(format string, a ...any) (*Recorder, error) {
		return nil, fmt.Errorf("%s: %w: %w", path, ErrNotWritten, fmt.Errorf(format, a...))
	}
	switch {
	case codec != MJPEG && codec != FFV1:
		return fail("unknown codec %q", string(codec))
	case !strings.EqualFold(filepath.Ext(path), ".mkv"):
		return fail("the name must end in .mkv")
	case w < 2 || h < 2 || w%2 != 0 || h%2 != 0 || w > 16384 || h > 16384:
		return fail("%w: %dx%d, both sides must be even", ErrSize, w, h)
	case math.IsNaN(rate) || rate < 1 || rate > 1000:
		return fail("rate %v Hz is not within 1..1000", rate)
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return fail("%w", err)
	}
	// Made here first, because the library does not say why it cannot.
	f, err := os.Create(abs)
	if err != nil {
		return fail("%w", cause(err))
	}
	if err := f.Close(); err != nil {
		return fail("%w", cause(err))
	}
	writer, err := gocv.VideoWriterFile(abs, string(codec), rate, w, h, true)
	if err != nil {
		return fail("%w", err)
	}
	if !writer.IsOpened() {
		writer.Close()
		if free, ok := freeSpace(abs); ok && free < spare {
			return fail("%w", ErrDiskFull)
		}
		return fail("the %s encoder is not available", codec)
	}
	return &Recorder{path: path, writer: writer, size: image.Pt(w, h)}, nil
}

// Write appends a picture. It gives ErrNoPicture or ErrSize for a picture that
// does not fit, and ErrDiskFull as soon as no room is left; nothing can be
// written after that.
func (r *Recorder) Write(img *Image) error {
	switch {
	case r.writer == nil:
		return fmt.Errorf("%s: %w: it is closed", r.path, ErrNotWritten)
	case r.failed != nil:
		return r.failed
	case img.Empty():
		return fmt.Errorf("%s: %w", r.path, ErrNoPicture)
	case img.Size() != r.size:
		s := img.Size()
		return fmt.Errorf("%s: %w: %dx%d in a recording of %dx%d", r.path, ErrSize, s.X, s.Y, r.size.X, r.size.Y)
	}
	if r.count%16 == 0 {
		if free, ok := freeSpace(r.path); ok && free < spare {
			r.failed = fmt.Errorf("%s: %w: %w after %d pictures", r.path, ErrNotWritten, ErrDiskFull, r.count)
			return r.failed
		}
	}
	if err := r.writer.Write(img.mat); err != nil {
		r.failed = fmt.Errorf("%s: %w: %w", r.path, ErrNotWritten, err)
		return r.failed
	}
	r.count++
	return nil
}

// Count is the number of pictures handed to Write.
func (r *Recorder) Count() int64 { return r.count }

// Close finishes the file and then counts the pictures in it, because the
// encoder reports no failed writes. It gives ErrNotWritten, with ErrDiskFull
// when that is the reason, when the file does not hold every picture. It may be
// called more than once.
func (r *Recorder) Close() error {
	if r.writer == nil {
		return r.failed
	}
	err := r.writer.Close()
	r.writer = nil
	if r.failed == nil && err != nil {
		r.failed = fmt.Errorf("%s: %w: %w", r.path, ErrNotWritten, err)
	}
	if r.failed == nil {
		r.failed = r.verify()
	}
	return r.failed
}

func (r *Recorder) verify() error {
	written, err := countBlocks(r.path)
	if err == nil && written == r.count {
		return nil
	}
	why := error(errors.New("the file is not whole"))
	if free, ok := freeSpace(r.path); ok && free < 4*spare {
		why = ErrDiskFull
	}
	return fmt.Errorf("%s: %w: %w: %d of %d pictures are in the file", r.path, ErrNotWritten, why, written, r.count)
}
