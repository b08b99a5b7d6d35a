package vision

import (
	"fmt"
	"image"

	"gocv.io/x/gocv"
)

// Image is a captured picture: 8-bit B, G, R, rows from the top. It holds
// memory of the native library: call Close. It is not safe for use by several
// goroutines at once.
type Image struct{ mat gocv.Mat }

// NewImage makes an Image without a picture.
func NewImage() *Image { return &Image{mat: gocv.NewMat()} }

// Close frees the picture. Bytes given before are no longer valid.
func (m *Image) Close() error { return m.mat.Close() }

// Empty says whether there is no picture.
func (m *Image) Empty() bool { return m.mat.Empty() }

// Size is width and height in pixels.
func (m *Image) Size() image.Point { return image.Pt(m.mat.Cols(), m.mat.Rows()) }

// Bytes gives the pixels, three bytes each, B, G, R, w*h*3 bytes, or nil. It is
// the picture's own memory: changes change the picture, and it is valid until
// the picture is changed or closed.
func (m *Image) Bytes() []byte {
	if m.Empty() {
		return nil
	}
	b, err := m.mat.DataPtrUint8()
	if err != nil {
		return nil
	}
	return b
}

// SetBGR copies w*h pixels of three bytes B, G, R. It gives ErrSize when the
// number of bytes is not w*h*3 or a side is not positive.
func (m *Image) SetBGR(w, h int, bgr []byte) error {
	if w < 1 || h < 1 || len(bgr) != w*h*3 {
		return fmt.Errorf("%w: %d bytes for %dx%d pixels", ErrSize, len(bgr), w, h)
	}
	if err := m.resize(w, h); err != nil {
		return err
	}
	copy(m.Bytes(), bgr)
	return nil
}

// resize makes room for w by h pixels, which hold anything then.
func (m *Image) resize(w, h int) error {
	if m.Size() == image.Pt(w, h) && m.mat.Type() == gocv.MatTypeCV8UC3 {
		return nil
	}
	if err := m.mat.Close(); err != nil {
		return err
	}
	m.mat = gocv.NewMatWithSize(h, w, gocv.MatTypeCV8UC3)
	return nil
}
