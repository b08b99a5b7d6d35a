package screen

import (
	"bufio"
	"bytes"
	"encoding/binary"
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
	src = essential(src)
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

// SizePNG is the size of a PNG in pixels, from its header. Errors wrap ErrPNG.
func SizePNG(src []byte) (w, h int, err error) {
	cfg, err := png.DecodeConfig(bytes.NewReader(essential(src)))
	if err != nil {
		return 0, 0, fmt.Errorf("%w: %w", ErrPNG, err)
	}
	return cfg.Width, cfg.Height, nil
}

// essential is a PNG without its ancillary chunks but for transparency (W3C PNG,
// third edition, section 5.4: bit 5 of the first byte of the type). The decoder
// makes nothing of them either, and takes 4 KiB from the heap for each, however
// short they are (image/png, Go 1.26). Their checksums are not looked at. What is no
// chunk is kept from there on, for the decoder to judge.
func essential(src []byte) []byte {
	const head, frame = 8, 12 // of the file; of a chunk, without its data
	if len(src) < head {
		return src
	}
	out := make([]byte, 0, len(src))
	out = append(out, src[:head]...)
	for rest := src[head:]; len(rest) > 0; {
		if len(rest) < frame {
			return append(out, rest...)
		}
		n := uint64(binary.BigEndian.Uint32(rest)) + frame
		if n > uint64(len(rest)) {
			return append(out, rest...)
		}
		if kind := rest[4:8]; kind[0]&0x20 == 0 || string(kind) == "tRNS" {
			out = append(out, rest[:n]...)
		}
		rest = rest[n:]
	}
	return out
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
