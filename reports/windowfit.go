package reports

import (
	"bytes"
	"image"
	"image/draw"
	"image/png"
	"slices"
)

// roundings are the steps to which colours are rounded so that a window fits, the
// finest first: 1 leaves them as they are. Rounding keeps every edge where it is,
// which JPEG does not: on the demo's noisy pictures of 84 kB a step of 8 is never
// more than 4 levels off with 46 kB, and JPEG of quality 95, which halves the
// resolution of colour, up to 118 levels off with 31 kB.
var roundings = []int{1, 4, 8, 16}

// rounded is a picture with its colours rounded to multiples of step, as PNG; p
// itself for a step of 1. It is nil when p cannot be decoded.
func rounded(p *Picture, step int) *Picture {
	if p == nil || step <= 1 {
		return p
	}
	img := decoded(p)
	if img == nil {
		return nil
	}
	m := flat(img)
	for i, v := range m.Pix {
		if i%4 < 3 {
			m.Pix[i] = byte(min((int(v)+step/2)/step*step, 255))
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		return nil
	}
	q := *p
	q.Data, q.Type = b.Bytes(), "image/png"
	return &q
}

// sides gives the size of a picture that can be shown; 0 when it cannot.
func sides(p *Picture) (w, h int) {
	if p == nil {
		return 0, 0
	}
	cfg, _, err := image.DecodeConfig(bytes.NewReader(p.Data))
	if err != nil || cfg.Width < 1 || cfg.Height < 1 || cfg.Width > maxSide || cfg.Height > maxSide {
		return 0, 0
	}
	return cfg.Width, cfg.Height
}

// flat is an opaque copy of a picture, from (0, 0).
func flat(img image.Image) *image.RGBA {
	size := img.Bounds().Size()
	out := image.NewRGBA(image.Rectangle{Max: size})
	draw.Draw(out, out.Rect, img, img.Bounds().Min, draw.Src)
	for i := 3; i < len(out.Pix); i += 4 {
		out.Pix[i] = 255
	}
	return out
}

// block is the side of the blocks that are outlined, in pixels of the raster.
const block = 8

// mostApart is, of all blocks, the largest mean difference of a channel, in
// levels. The page's script does the same sum. ok is false when the sizes differ.
func mostApart(a, b *image.RGBA) (most float64, ok bool) {
	if a.Rect != b.Rect {
		return 0, false
	}
	w, h := a.Rect.Dx(), a.Rect.Dy()
	for by := 0; by < h; by += block {
		for bx := 0; bx < w; bx += block {
			var sum [3]int
			n := 0
			for y := by; y < min(by+block, h); y++ {
				for x := bx; x < min(bx+block, w); x++ {
					i := y*a.Stride + 4*x
					for c := range sum {
						d := int(a.Pix[i+c]) - int(b.Pix[i+c])
						sum[c] += max(d, -d)
					}
					n++
				}
			}
			most = max(most, float64(max(sum[0], sum[1], sum[2]))/float64(n))
		}
	}
	return most, true
}

// Levels from which on a block counts as differing for the eye.
const (
	aboveEqual = 1.5 // times the most in a frame before, in the median of those: one may be torn
	leastLevel = 2.0
	blindLevel = 8.0 // when there is no such frame
)

// level is the mean difference from which on a block is outlined. It is for the
// eye: where the runs part is for the comparison to say, which measures noise on
// all of the runs.
func level(frames []WindowFrame, before int64) float64 {
	var all []float64
	for _, f := range frames {
		if f.Frame >= before {
			break
		}
		a, b := decoded(f.A.Picture), decoded(f.B.Picture)
		if a == nil || b == nil {
			continue
		}
		if d, ok := mostApart(flat(a), flat(b)); ok {
			all = append(all, d)
		}
	}
	if len(all) == 0 {
		return blindLevel
	}
	slices.Sort(all)
	return max(round(all[(len(all)-1)/2]*aboveEqual), leastLevel)
}
