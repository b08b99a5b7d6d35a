package vision

import (
	"fmt"
	"image"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// Recorder writes pictures to a Matroska file. Close must be called, and its
// error heeded: only it knows whether everything was written. It is not safe
// for use by several goroutines at once; encode in several (Image.JPEG) and
// hand over in one (WriteJPEG) when one is not fast enough.
//
// The file is written through picture by picture: when the program is killed,
// all pictures up to there can be read, without a duration and an index (with
// H.264 all but the last dozens, which the encoder still holds). The same
// pictures make the same file, byte for byte.
type Recorder struct {
	path   string
	to     *track
	size   image.Point
	rate   float64
	count  int64
	last   time.Duration // stamp of the last picture
	failed error
}

// CreateVideo starts a recording in MJPEG or FFV1 with nothing chosen; see
// CreateVideoWith.
func CreateVideo(path string, codec Codec, w, h int, rate float64) (*Recorder, error) {
	return CreateVideoWith(path, RecordOptions{Codec: codec}, w, h, rate)
}

// CreateVideoWith starts a recording of w by h pixels (both even, h a multiple
// of 4 for woven 4:2:0 that is not MJPEG) at rate hertz, replacing what was
// there. path must end in ".mkv". The file says the period to 1 ns and stamps
// picture k with k/rate to 1 ms, or with the time that WriteAt is given: when
// the instants matter more than that, keep them apart. Errors wrap
// ErrNotWritten.
func CreateVideoWith(path string, o RecordOptions, w, h int, rate float64) (*Recorder, error) {
	fail := func(format string, a ...any) (*Recorder, error) {
		return nil, fmt.Errorf("%s: %w: %w", path, ErrNotWritten, fmt.Errorf(format, a...))
	}
	if err := o.complete(); err != nil {
		return fail("%w", err)
	}
	fields := o.Woven != NotWoven && o.Chroma == Chroma420 && o.Codec != MJPEG
	switch {
	case !strings.EqualFold(filepath.Ext(path), ".mkv"):
		return fail("the name must end in .mkv")
	case w < 2 || h < 2 || w%2 != 0 || h%2 != 0 || w > 16384 || h > 16384:
		return fail("%w: %dx%d, both sides must be even", ErrSize, w, h)
	case fields && h%4 != 0:
		return fail("%w: %dx%d, the height of woven pictures must be a multiple of 4", ErrSize, w, h)
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
	r := &Recorder{path: path, size: image.Pt(w, h), rate: rate, last: -time.Hour}
	if r.to, err = createTrack(f, o, w, h, rate); err != nil {
		return fail("%w", err)
	}
	return r, nil
}

// Write appends a picture at the next k/rate. It gives ErrNoPicture or ErrSize
// for a picture that does not fit, and ErrDiskFull when no room is left; nothing
// can be written after that.
func (r *Recorder) Write(img *Image) error { return r.WriteAt(img, r.regular()) }

// WriteAt is Write with the time at which the picture is shown, counted from
// the start of the recording and rounded to 1 ms; it must be at least 1 ms
// after the picture before, or it gives ErrStamp.
func (r *Recorder) WriteAt(img *Image, at time.Duration) error {
	switch {
	case r.stopped() != nil:
		return r.stopped()
	case img.Empty():
		return fmt.Errorf("%s: %w", r.path, ErrNoPicture)
	case img.Size() != r.size:
		return fmt.Errorf("%s: %w", r.path, sizeError(img.Size(), r.size))
	}
	if err := r.checkStamp(at); err != nil {
		return err
	}
	return r.counted(r.to.write(img, milliseconds(at)), at)
}

// WriteJPEG appends a picture that is JPEG already, as it is, in an MJPEG
// recording. It looks at the headers only, and gives ErrNotJPEG or ErrSize for
// what does not fit; otherwise it is as Write. jpeg is not kept.
func (r *Recorder) WriteJPEG(jpeg []byte) error { return r.WriteJPEGAt(jpeg, r.regular()) }

// WriteJPEGAt is WriteJPEG with a time, as in WriteAt.
func (r *Recorder) WriteJPEGAt(jpeg []byte, at time.Duration) error {
	if err := r.stopped(); err != nil {
		return err
	}
	if r.to.options.Codec != MJPEG {
		return fmt.Errorf("%s: %w: it is not a recording in Motion JPEG", r.path, ErrNotJPEG)
	}
	if err := checkJPEG(jpeg, r.size); err != nil {
		return fmt.Errorf("%s: %w", r.path, err)
	}
	if err := r.checkStamp(at); err != nil {
		return err
	}
	return r.counted(r.to.append(jpeg, milliseconds(at), true), at)
}

// regular is when the next picture is due.
func (r *Recorder) regular() time.Duration { return r.at(r.count) }

// at is when picture k is due.
func (r *Recorder) at(k int64) time.Duration {
	return time.Duration(math.Round(float64(k) * 1e9 / r.rate))
}

func milliseconds(t time.Duration) int64 { return int64(t.Round(time.Millisecond) / time.Millisecond) }

func (r *Recorder) checkStamp(at time.Duration) error {
	if at < 0 || milliseconds(at) <= milliseconds(r.last) {
		return fmt.Errorf("%s: %w: %v after %v", r.path, ErrStamp, at, r.last)
	}
	return nil
}

// stopped says why nothing can be written any more.
func (r *Recorder) stopped() error {
	if r.to == nil {
		return fmt.Errorf("%s: %w: it is closed", r.path, ErrNotWritten)
	}
	return r.failed
}

// counted counts a picture, or keeps the error that ended the recording.
func (r *Recorder) counted(err error, at time.Duration) error {
	if err != nil {
		r.failed = fmt.Errorf("%s: %w: %w", r.path, ErrNotWritten, err)
		return r.failed
	}
	r.count++
	r.last = at
	return nil
}

// Count is the number of pictures written without an error.
func (r *Recorder) Count() int64 { return r.count }

// Close finishes the file and then counts the pictures in it, because somebody
// may have taken the file away. It gives ErrNotWritten, with ErrDiskFull when that is the reason, when
// the file does not hold every picture. It may be called more than once.
func (r *Recorder) Close() error {
	if r.to == nil {
		return r.failed
	}
	duration := r.last.Seconds()*1000 + 1000/r.rate
	if r.last == r.at(r.count-1) { // regular: exactly
		duration = float64(r.count) * 1000 / r.rate
	}
	err := r.to.close(duration)
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
	return fmt.Errorf("%s: %w: the file is not whole: %d of %d pictures are in the file", r.path, ErrNotWritten, written, r.count)
}

func sizeError(got, want image.Point) error {
	return fmt.Errorf("%w: %dx%d in a recording of %dx%d", ErrSize, got.X, got.Y, want.X, want.Y)
}
