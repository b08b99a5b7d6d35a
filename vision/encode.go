package vision

import (
	"fmt"

	"gocv.io/x/gocv"
)

// JPEG encodes the picture; quality is 1..100.
func (m *Image) JPEG(quality int) ([]byte, error) {
	if m.Empty() {
		return nil, ErrNoPicture
	}
	quality = min(max(quality, 1), 100)
	return bytesOf(gocv.IMEncodeWithParams(gocv.JPEGFileExt, m.mat, []int{gocv.IMWriteJpegQuality, quality}))
}

// PNG encodes the picture without loss.
func (m *Image) PNG() ([]byte, error) {
	if m.Empty() {
		return nil, ErrNoPicture
	}
	return bytesOf(gocv.IMEncode(gocv.PNGFileExt, m.mat))
}

func bytesOf(buf *gocv.NativeByteBuffer, err error) ([]byte, error) {
	if err != nil {
		return nil, fmt.Errorf("encode: %w", err)
	}
	defer buf.Close()
	return append([]byte(nil), buf.GetBytes()...), nil
}
