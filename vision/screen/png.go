package screen

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"image/png"
	"io"
	"os"
)

// MaxSide is the longest side of a PNG that is read, in pixels.
const MaxSide = 8192

// ErrPNG is wrapped by every error about the content of a PNG.
var ErrPNG = errors.New("not a usable PNG picture")

// WritePNG writes s as an 8-bit R'G'B' PNG. Greys come back exactly.
func (s *Screen) WritePNG(w io.Writer) error { return png.Encode(w, s.ToImage()) }

// SavePNG writes s as a PNG file, replacing what was there.
func (s *Screen) SavePNG(path string) error {
	var buf bytes.Buffer
	if err := s.WritePNG(&buf); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return os.WriteFile(path, buf.Bytes(), 0o644)
}

// ReadPNG reads a PNG of any colour type. alpha holds one byte per pixel (255
// is opaque), or is nil when every pixel is opaque. Errors wrap ErrPNG.
func ReadPNG(r io.Reader) (s *Screen, alpha []byte, err error) {
	src, err := io.ReadAll(r)
	if err != nil {
		return nil, nil, err
	}
	cfg, err := png.DecodeConfig(bytes.NewReader(src))
	if err != nil {
		return nil, nil, fmt.Errorf("%w: %w", ErrPNG, err)
	}
	if cfg.Width > MaxSide || cfg.Height > MaxSide {
		return nil, nil, fmt.Errorf("%w: %dx%d pixels, the limit is %d a side", ErrPNG, cfg.Width, cfg.Height, MaxSide)
	}
	img, err := png.Decode(bytes.NewReader(src))
	if err != nil {
		return nil, nil, fmt.Errorf("%w: %w", ErrPNG, err)
	}
	s, alpha = fromImage(img)
	return s, alpha, nil
}

// LoadPNG reads a PNG file; see ReadPNG. Errors start with the path.
func LoadPNG(path string) (s *Screen, alpha []byte, err error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	s, alpha, err = ReadPNG(bufio.NewReader(f))
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", path, err)
	}
	return s, alpha, nil
}
