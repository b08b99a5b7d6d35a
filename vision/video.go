package vision

import (
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"time"

	"gocv.io/x/gocv"
)

// Info is what a container says about its video.
type Info struct {
	// Width and Height of a picture, pixels.
	Width, Height int
	// FPS is the nominal picture rate, hertz; 0 when unknown.
	FPS float64
	// Frames is the number of pictures that the container promises, from its
	// index or from duration times rate; 0 when it does not say. It may be
	// wrong: count what Next delivers.
	Frames int64
	// Container is the kind of file, for example "Matroska".
	Container string
}

// Video reads the pictures of a file in order. It holds memory of the native
// library: call Close. It is not safe for use by several goroutines at once.
type Video struct {
	path    string
	info    Info
	capture *gocv.VideoCapture

	// next holds the picture decoded last; ready says that it was not yet
	// delivered, as the first one after opening.
	next      *Image
	nextStamp time.Duration
	ready     bool
	stamp     time.Duration
	count     int64
	end       error
}

// OpenVideo opens a video file and decodes its first picture. It gives
// ErrNoVideo (also with fs.ErrNotExist or fs.ErrPermission) or ErrEmpty.
func OpenVideo(path string) (*Video, error) {
	head, err := readHead(path)
	if err != nil {
		return nil, fmt.Errorf("%s: %w: %w", path, ErrNoVideo, err)
	}
	if len(head) == 0 {
		return nil, fmt.Errorf("%s: %w: the file is empty", path, ErrEmpty)
	}
	kind := container(head)
	if kind == "" {
		return nil, fmt.Errorf("%s: %w: %s", path, ErrNoVideo, looksLike(head))
	}
	// An absolute path cannot be taken for a device number, a URL or a
	// protocol.
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("%s: %w: %w", path, ErrNoVideo, err)
	}
	capture, err := gocv.VideoCaptureFileWithAPI(abs, gocv.VideoCaptureFFmpeg)
	if err != nil {
		capture.Close()
		if wholeButEmpty(path, kind) {
			return nil, fmt.Errorf("%s: %w: the Matroska file is whole but holds none", path, ErrEmpty)
		}
		return nil, fmt.Errorf("%s: %w: the %s file cannot be opened; it is damaged, cut short or holds no video", path, ErrNoVideo, kind)
	}
	v := &Video{path: path, capture: capture, next: NewImage()}
	v.info = Info{
		Width:     int(capture.Get(gocv.VideoCaptureFrameWidth)),
		Height:    int(capture.Get(gocv.VideoCaptureFrameHeight)),
		FPS:       sane(capture.Get(gocv.VideoCaptureFPS)),
		Frames:    int64(sane(capture.Get(gocv.VideoCaptureFrameCount))),
		Container: kind,
	}
	if !v.decode() {
		v.Close()
		if wholeButEmpty(path, kind) {
			return nil, fmt.Errorf("%s: %w: the Matroska file is whole but holds none", path, ErrEmpty)
		}
		return nil, fmt.Errorf("%s: %w: the %s file has no picture that can be decoded", path, ErrEmpty, kind)
	}
	return v, nil
}

func wholeButEmpty(path, kind string) bool {
	n, err := countBlocks(path)
	return kind == "Matroska" && n == 0 && err == nil
}

// readHead gives the first bytes of a regular file.
func readHead(path string) ([]byte, error) {
	st, err := os.Stat(path)
	if err != nil {
		return nil, cause(err)
	}
	if st.IsDir() {
		return nil, errors.New("it is a folder")
	}
	if !st.Mode().IsRegular() {
		return nil, errors.New("it is not a regular file")
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, cause(err)
	}
	defer f.Close()
	head := make([]byte, 1024)
	n, err := io.ReadFull(f, head)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, cause(err)
	}
	return head[:n], nil
}

// cause drops the operation and the path from an error of package os.
func cause(err error) error {
	var pe *os.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	return err
}

// sane turns the decoder's "unknown" values (negative, huge, not a number)
// into 0.
func sane(x float64) float64 {
	if math.IsNaN(x) || x <= 0 || x > 1e12 {
		return 0
	}
	return x
}

// Info is what the container says.
func (v *Video) Info() Info { return v.info }

// Count is the number of pictures delivered so far.
func (v *Video) Count() int64 { return v.count }

// Stamp is the presentation time of the last picture that Next delivered,
// from the start of the stream, to the resolution of the container (1 ms in
// Matroska). It is 0 before the first.
func (v *Video) Stamp() time.Duration { return v.stamp }

// Next puts the next picture into img. At the end it gives io.EOF, or an
// error that wraps ErrTruncated when the file ended clearly early: the
// container promised more pictures than came, and the last stamp lies more
// than 3 pictures and more than 0.25 s before the promised duration. (The
// tolerance is there because a container may count a longer sound track.)
// After the end it gives the same error again. img is not changed by an error.
func (v *Video) Next(img *Image) error {
	if v.end != nil {
		return v.end
	}
	if !v.ready && !v.decode() {
		v.end = v.atEnd()
		return v.end
	}
	img.mat, v.next.mat = v.next.mat, img.mat
	v.ready, v.stamp = false, v.nextStamp
	v.count++
	return nil
}

// decode makes the next picture ready, or says that there is none. The decoder
// empties what it is given at the end, so it is never given the caller's.
func (v *Video) decode() bool {
	v.ready = v.capture.Read(&v.next.mat) && !v.next.Empty()
	if v.ready {
		v.nextStamp = time.Duration(math.Round(sane(v.capture.Get(gocv.VideoCapturePosMsec)) * 1e6))
		if v.nextStamp == 0 && v.stamp > 0 && v.info.FPS > 0 {
			// The last picture of a stream whose decoder works ahead (H.264)
			// comes without a time.
			v.nextStamp = v.stamp + time.Duration(math.Round(1e9/v.info.FPS))
		}
	}
	return v.ready
}

func (v *Video) atEnd() error {
	if v.info.Frames == 0 || v.info.FPS == 0 || v.count >= v.info.Frames {
		return io.EOF
	}
	picture := 1 / v.info.FPS
	missing := float64(v.info.Frames)*picture - (v.stamp.Seconds() + picture)
	if missing <= max(3*picture, 0.25) {
		return io.EOF
	}
	return fmt.Errorf("%s: %w: %d pictures came, about %d were promised, %.2f s are missing",
		v.path, ErrTruncated, v.count, v.info.Frames, missing)
}

// Close closes the file. It may be called more than once.
func (v *Video) Close() error {
	if v.end == nil {
		v.end = errors.New("video is closed")
	}
	if v.capture == nil {
		return nil
	}
	err := errors.Join(v.next.Close(), v.capture.Close())
	v.capture = nil
	return err
}
