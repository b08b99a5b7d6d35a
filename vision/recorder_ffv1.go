package vision

import (
	"fmt"
	"os"

	"gocv.io/x/gocv"
)

// spare is the free space below which an exact recording stops, bytes.
const spare = 64 << 10

// look is how many pictures lie between two looks at the free space.
const look = 16

// exactFile is a recording in FFV1 by OpenCV's writer. That reports no failed
// writes, so the free space is looked at instead.
type exactFile struct {
	path   string
	writer *gocv.VideoWriter
	count  int
}

// createExactFile takes over a file that was made, because the library does
// not say why it cannot make one.
func createExactFile(f *os.File, abs string, w, h int, rate float64) (*exactFile, error) {
	if err := f.Close(); err != nil {
		return nil, cause(err)
	}
	writer, err := gocv.VideoWriterFile(abs, string(FFV1), rate, w, h, true)
	if err != nil {
		return nil, err
	}
	if !writer.IsOpened() {
		writer.Close()
		if free, ok := freeSpace(abs); ok && free < spare {
			return nil, ErrDiskFull
		}
		return nil, fmt.Errorf("the %s encoder is not available", FFV1)
	}
	return &exactFile{path: abs, writer: writer}, nil
}

func (e *exactFile) write(img *Image) error {
	if e.count%look == 0 {
		if free, ok := freeSpace(e.path); ok && free < spare {
			return fmt.Errorf("%w after %d pictures", ErrDiskFull, e.count)
		}
	}
	e.count++
	return e.writer.Write(img.mat)
}

func (e *exactFile) close() error { return e.writer.Close() }
