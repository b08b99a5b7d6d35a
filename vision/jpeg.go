package vision

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
)

// JPEGQuality is the quality with which a recording compresses pictures, on the
// scale of libjpeg, 1..100. It is a balance: a noisy picture of 640x480 (sigma
// 2.5 and 8) takes 23 and 48 kB and loses 0.6 and 0.4 squared levels in means
// of 4x4 luma pixels; 90 takes 40 % more, loses 0.35, and is read back a
// seventh slower.
const JPEGQuality = 85

// checkJPEG says whether src begins as a JPEG picture of a size. It reads the
// headers only, up to the first scan.
func checkJPEG(src []byte, size image.Point) error {
	c, err := jpeg.DecodeConfig(bytes.NewReader(src))
	if err != nil {
		return fmt.Errorf("%w: %w", ErrNotJPEG, err)
	}
	if got := image.Pt(c.Width, c.Height); got != size {
		return sizeError(got, size)
	}
	return nil
}
