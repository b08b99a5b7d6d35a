package evidence

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/png"
	"strconv"
	"strings"

	"latchproof/vision/screen"
)

// ErrPicture is wrapped by every error about the content of a kept picture.
var ErrPicture = errors.New("not a kept picture")

// maxSide bounds a raster, as that of a trace.
const maxSide = 1024

// Encode writes a screen as a PNG from which Decode gives back every byte.
func Encode(s *screen.Screen) ([]byte, error) {
	n := s.W * s.H
	img := image.NewGray(image.Rect(0, 0, s.W, 3*s.H))
	copy(img.Pix, s.Y[:n])
	copy(img.Pix[n:], s.Cb[:n])
	copy(img.Pix[2*n:], s.Cr[:n])
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// MaxBytes is how long the PNG of a screen of w by h pixels may be: planes that
// do not pack at all take a thousandth more than their bytes, and as much again is
// given for other writers of PNG.
func MaxBytes(w, h int) int64 { return 2*3*int64(w)*int64(h) + 1<<16 }

// Decode reads a picture of Encode; w and h are those of the raster. Errors wrap
// ErrPicture. Nothing is unpacked of a file that says that it is of another size.
func Decode(src []byte, w, h int) (*screen.Screen, error) {
	if w < 1 || h < 1 || w > maxSide || h > maxSide {
		return nil, fmt.Errorf("%w: raster %dx%d", ErrPicture, w, h)
	}
	if int64(len(src)) > MaxBytes(w, h) {
		return nil, fmt.Errorf("%w: %d bytes long, at most %d for this raster", ErrPicture, len(src), MaxBytes(w, h))
	}
	// The size stands in the first 26 bytes: signature, length and name of IHDR,
	// width, height, depth and colour type.
	if len(src) < 26 || string(src[12:16]) != "IHDR" || src[24] != 8 || src[25] != 0 {
		return nil, fmt.Errorf("%w: no PNG of 8-bit grey", ErrPicture)
	}
	cfg, err := png.DecodeConfig(bytes.NewReader(src))
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrPicture, err)
	}
	if cfg.Width != w || cfg.Height != 3*h {
		return nil, fmt.Errorf("%w: %dx%d pixels, want %dx%d", ErrPicture, cfg.Width, cfg.Height, w, 3*h)
	}
	r := bytes.NewReader(src)
	img, err := png.Decode(r)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrPicture, err)
	}
	if r.Len() > 0 {
		return nil, fmt.Errorf("%w: %d bytes after its end", ErrPicture, r.Len())
	}
	grey, ok := img.(*image.Gray)
	if !ok || grey.Stride != w || len(grey.Pix) != 3*w*h {
		return nil, fmt.Errorf("%w: no plain grey", ErrPicture)
	}
	n := w * h
	return &screen.Screen{W: w, H: h, Y: grey.Pix[:n:n], Cb: grey.Pix[n : 2*n : 2*n], Cr: grey.Pix[2*n:]}, nil
}

// Name is the name of the file of capture picture k.
func Name(k int) string { return fmt.Sprintf("%06d.png", k) }

// Index is the capture index that a name stands for.
func Index(name string) (int, bool) {
	digits, ok := strings.CutSuffix(name, ".png")
	if !ok {
		return 0, false
	}
	k, err := strconv.ParseUint(digits, 10, 31)
	if err != nil || Name(int(k)) != name {
		return 0, false
	}
	return int(k), true
}
