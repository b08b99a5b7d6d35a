package vision

// #include "libav.h"
import "C"

import (
	"fmt"
	"image"

	"gocv.io/x/gocv"

	"latchproof/vision/screen"
)

// Normalizer brings captured pictures to a console's raster: crop, resample by
// area, convert to full range BT.601 Y, Cb, Cr. It keeps buffers between
// pictures: call Close. It is not safe for use by several goroutines at once.
type Normalizer struct {
	// Active is where the raster lies in the captured picture, pixels; empty
	// means the whole picture.
	Active image.Rectangle
	// W and H are the size of the raster, pixels.
	W, H int

	step, small gocv.Mat
	made        bool

	kernel *kernel
	plain  *C.AVFrame // a picture in a format that the kernel knows
}

// Screen sets dst from img; dst is given the raster's size. img is not
// changed. It gives ErrNoPicture, ErrSize (no raster) or ErrOutside (Active
// reaches over the edge of img).
//
// Every raster pixel is the area-weighted mean of the captured pixels that it
// covers, rounded to 8 bits (OpenCV INTER_AREA; normalise_test.go compares it
// with exact fractions). An axis on which the capture has fewer pixels than
// the raster is interpolated instead.
func (n *Normalizer) Screen(img *Image, dst *screen.Screen) error {
	if img.Empty() {
		return ErrNoPicture
	}
	if n.W < 1 || n.H < 1 {
		return fmt.Errorf("%w: raster %dx%d", ErrSize, n.W, n.H)
	}
	size := img.Size()
	whole := image.Rectangle{Max: size}
	active := n.Active
	if active.Empty() {
		active = whole
	}
	if !active.In(whole) {
		return fmt.Errorf("%w: active %v of a picture of %dx%d", ErrOutside, active, size.X, size.Y)
	}
	if active == whole && size == image.Pt(n.W, n.H) {
		dst.SetBGR(n.W, n.H, img.Bytes())
		return nil
	}
	if !n.made {
		n.step, n.small, n.made = gocv.NewMat(), gocv.NewMat(), true
	}
	src := img.mat.Region(active)
	defer src.Close()
	// INTER_AREA means area only when both axes shrink, so shrink first and
	// enlarge what is left afterwards.
	shrunk := image.Pt(min(n.W, active.Dx()), min(n.H, active.Dy()))
	last := &n.small
	gocv.Resize(src, last, shrunk, 0, 0, gocv.InterpolationArea)
	if shrunk != image.Pt(n.W, n.H) {
		last = &n.step
		gocv.Resize(n.small, last, image.Pt(n.W, n.H), 0, 0, gocv.InterpolationLinear)
	}
	bgr, err := last.DataPtrUint8()
	if err != nil {
		return err
	}
	dst.SetBGR(n.W, n.H, bgr)
	return nil
}

// Close frees the buffers. The Normalizer can be used again afterwards.
func (n *Normalizer) Close() error {
	freeFrame(n.plain)
	n.plain, n.kernel = nil, nil
	if !n.made {
		return nil
	}
	n.made = false
	if err := n.step.Close(); err != nil {
		return err
	}
	return n.small.Close()
}
