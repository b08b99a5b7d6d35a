package vision

import (
	"errors"
	"fmt"
	"image"
	"os"
	"syscall"
)

// jpegFile is a recording in Motion JPEG, by our own muxer.
type jpegFile struct {
	file *os.File
	mux  *muxer
	size image.Point
}

func createJPEGFile(f *os.File, w, h int, rate float64) (*jpegFile, error) {
	mux, err := newMuxer(f, w, h, rate)
	if err != nil {
		f.Close()
		return nil, plain(err)
	}
	return &jpegFile{file: f, mux: mux, size: image.Pt(w, h)}, nil
}

func (j *jpegFile) write(img *Image) error {
	src, err := img.JPEG(JPEGQuality)
	if err != nil {
		return err
	}
	return j.append(src)
}

func (j *jpegFile) append(src []byte) error {
	if err := j.mux.write(src); err != nil {
		return fmt.Errorf("%w after %d pictures", plain(err), j.mux.pictures)
	}
	return nil
}

func (j *jpegFile) close() error {
	err := j.mux.close()
	if e := j.file.Close(); err == nil {
		err = e
	}
	return plain(err)
}

// plain gives ErrDiskFull when that is what an error of a file says, also when
// it is the user's share of the disk; other errors lose their path.
func plain(err error) error {
	if errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) {
		return ErrDiskFull
	}
	return cause(err)
}
