package vision

import (
	"errors"
	"fmt"
	"image"
	"math"
	"os"
	"path/filepath"
	"strings"
)

// Codec is how a Recorder compresses pictures.
type Codec string

// The codecs. Both keep every picture on its own, so a cut file loses only its
// end.
const (
	// MJPEG is small and fast, with some loss (JPEGQuality) and half the colour
	// resolution on both axes (4:2:0).
	MJPEG Codec = "MJPG"
	// FFV1 is exact (RFC 9043) and slow.
	FFV1 Codec = "FFV1"
)

// Recorder writes pictures to a Matroska file. Close must be called, and its
// error heeded: only it knows whether everything was written. It is not safe
// for use by several goroutines at once; encode in several (Image.JPEG) and
// hand over in one (WriteJPEG) when one is not fast enough.
//
// An MJPEG file is written through picture by picture: when the program is
// killed, all pictures up to there can be read, without a duration and an
// index. The same pictures make the same file, byte for byte.
type Recorder struct {
	path   string
	to     recording
	size   image.Point
	count  int64
	failed error
}

// recording is a file being written in one of the codecs. Its errors have no
// path yet.
type recording interface {
	write(img *Image) error
	close() error
}

// CreateVideo starts a recording of w by h pixels (both even) at rate hertz,
// replacing what was there. path must end in ".mkv". The file says the period
// to 1 ns (FFV1: the rate to 0.001 Hz) and stamps picture k with k/rate to
// 1 ms: when the instants matter, keep them apart. Errors wrap ErrNotWritten.
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
	f, err := os.Create(abs)
	if err != nil {
		return fail("%w", plain(err))
	}
	r := &Recorder{path: path, size: image.Pt(w, h)}
	if codec == MJPEG {
		r.to, err = createJPEGFile(f, w, h, rate)
	} else {
		r.to, err = createExactFile(f, abs, w, h, rate)
	}
	if err != nil {
		return fail("%w", err)
	}
	return r, nil
}

// Write appends a picture. It gives ErrNoPicture or ErrSize for a picture that
// does not fit, and ErrDiskFull when no room is left (FFV1: within 16 pictures);
// nothing can be written after that.
func (r *Recorder) Write(img *Image) error {
	switch {
	case r.stopped() != nil:
		return r.stopped()
	case img.Empty():
		return fmt.Errorf("%s: %w", r.path, ErrNoPicture)
	case img.Size() != r.size:
		return fmt.Errorf("%s: %w", r.path, sizeError(img.Size(), r.size))
	}
	return r.counted(r.to.write(img))
}

// WriteJPEG appends a picture that is JPEG already, as it is, in an MJPEG
// recording. It looks at the headers only, and gives ErrNotJPEG or ErrSize for
// what does not fit; otherwise it is as Write. jpeg is not kept.
func (r *Recorder) WriteJPEG(jpeg []byte) error {
	if err := r.stopped(); err != nil {
		return err
	}
	to, ok := r.to.(*jpegFile)
	if !ok {
		return fmt.Errorf("%s: %w: it is not a recording in Motion JPEG", r.path, ErrNotJPEG)
	}
	if err := checkJPEG(jpeg, r.size); err != nil {
		return fmt.Errorf("%s: %w", r.path, err)
	}
	return r.counted(to.append(jpeg))
}

// stopped says why nothing can be written any more.
func (r *Recorder) stopped() error {
	if r.to == nil {
		return fmt.Errorf("%s: %w: it is closed", r.path, ErrNotWritten)
	}
	return r.failed
}

// counted counts a picture, or keeps the error that ended the recording.
func (r *Recorder) counted(err error) error {
	if err != nil {
		r.failed = fmt.Errorf("%s: %w: %w", r.path, ErrNotWritten, err)
		return r.failed
	}
	r.count++
	return nil
}

// Count is the number of pictures written without an error.
func (r *Recorder) Count() int64 { return r.count }

// Close finishes the file and then counts the pictures in it, because not
// every encoder reports a failed write and somebody may have taken the file
// away. It gives ErrNotWritten, with ErrDiskFull when that is the reason, when
// the file does not hold every picture. It may be called more than once.
func (r *Recorder) Close() error {
	if r.to == nil {
		return r.failed
	}
	err := r.to.close()
	r.to = nil
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

func sizeError(got, want image.Point) error {
	return fmt.Errorf("%w: %dx%d in a recording of %dx%d", ErrSize, got.X, got.Y, want.X, want.Y)
}
