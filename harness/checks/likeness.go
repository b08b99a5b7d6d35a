package checks

import (
	"image"
	"math"

	"latchproof/vision"
)

// likeness is the score (see package vision) of template b against a when b
// stands at a place relative to a, over the pixels that both use; -1 when these
// are less than a share of those of b, or fewer than 4. What is
// flat there scores 0.
func likeness(a, b *vision.Template, at image.Point, share float64) float64 {
	both := image.Rectangle{Max: a.Size()}.Intersect(image.Rectangle{Min: at, Max: at.Add(b.Size())})
	var n, sa, sb, saa, sbb, sab int64
	for y := both.Min.Y; y < both.Max.Y; y++ {
		for x := both.Min.X; x < both.Max.X; x++ {
			u, used := a.At(x, y)
			v, also := b.At(x-at.X, y-at.Y)
			if !used || !also {
				continue
			}
			p, q := int64(u), int64(v)
			n, sa, sb, saa, sbb, sab = n+1, sa+p, sb+q, saa+p*p, sbb+q*q, sab+p*q
		}
	}
	if n < 4 || float64(n) < share*float64(b.Used()) {
		return -1
	}
	va, vb := n*saa-sa*sa, n*sbb-sb*sb
	if va == 0 || vb == 0 {
		return 0
	}
	if va == vb && n*sab-sa*sb == va {
		return 1
	}
	return float64(n*sab-sa*sb) / math.Sqrt(float64(va)*float64(vb))
}
