package reports

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
)

// brighten is by how much a difference is multiplied to be seen.
const brighten = 4

// Difference is a picture of where two pictures differ: for every pixel the
// largest difference of its red, green and blue, four times as bright, as grey.
// It is nil when one of them is missing, cannot be decoded, or their sizes
// differ. Noise differs too; where the runs differ beyond it is for the
// comparison to say.
func Difference(a, b *Picture) *Picture {
	ia, ib := decoded(a), decoded(b)
	if ia == nil || ib == nil || ia.Bounds().Size() != ib.Bounds().Size() {
		return nil
	}
	size := ia.Bounds().Size()
	out := image.NewGray(image.Rectangle{Max: size})
	for y := range size.Y {
		for x := range size.X {
			ra, ga, ba, _ := ia.At(ia.Bounds().Min.X+x, ia.Bounds().Min.Y+y).RGBA()
			rb, gb, bb, _ := ib.At(ib.Bounds().Min.X+x, ib.Bounds().Min.Y+y).RGBA()
			d := max(apart(ra, rb), apart(ga, gb), apart(ba, bb))
			out.SetGray(x, y, color.Gray{Y: byte(min(d*brighten, 255))})
		}
	}
	var buf bytes.Buffer
	if err := png.Encode(&buf, out); err != nil {
		return nil
	}
	return &Picture{
		Data: buf.Bytes(), Type: "image/png", W: size.X, H: size.Y,
		Alt: fmt.Sprintf("Difference of the two, %d times as bright: black where they are equal", brighten),
	}
}

// apart is the difference of two 16-bit channel values in 8-bit steps.
func apart(a, b uint32) uint32 { return max(a>>8, b>>8) - min(a>>8, b>>8) }

func decoded(p *Picture) image.Image {
	if p == nil {
		return nil
	}
	cfg, _, err := image.DecodeConfig(bytes.NewReader(p.Data))
	if err != nil || cfg.Width < 1 || cfg.Height < 1 || cfg.Width > maxSide || cfg.Height > maxSide {
		return nil
	}
	img, _, err := image.Decode(bytes.NewReader(p.Data))
	if err != nil {
		return nil
	}
	return img
}
