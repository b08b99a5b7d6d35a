package vision

import (
	"fmt"

	"gocv.io/x/gocv"
)

// JPEG encodes the picture; quality is 1..100.
func (m *Image) JPEG(quality int) ([]byte, error) {
	return m.encode(gocv.JPEGFileExt, []int{gocv.IMWriteJpegQuality, min(max(quality, 1), 100)})
}

// PNG encodes the picture without loss.
func (m *Image) PNG() ([]byte, error) {
	return m.encode(gocv.PNGFileExt, nil)
}

func (m *Image) encode(ext gocv.FileExt, params []int) ([]byte, error) {
	if m.Empty() {
		return nil, ErrNoPicture
	}
	buf, err := gocv.IMEncodeWithParams(ext, m.mat, params)
	if err != nil {
		return nil, fmt.Errorf("encode %s: %w", ext, err)
	}
	defer buf.Close()
	return append([]byte(nil), buf.GetBytes()...), nil
}
