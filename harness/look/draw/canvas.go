package draw

import (
	"image"
	"image/color"
	"image/draw"

	"latchproof/vision/screen"
)

// The colours of what is drawn around pictures.
var (
	paper  = color.RGBA{0x16, 0x18, 0x1d, 0xff}
	cell   = color.RGBA{0x24, 0x27, 0x2e, 0xff}
	ink    = color.RGBA{0xf2, 0xf2, 0xf2, 0xff}
	faint  = color.RGBA{0x9a, 0xa0, 0xab, 0xff}
	strong = color.RGBA{0xff, 0xd5, 0x4a, 0xff} // outlines, marks
)

// The size of a character with the space around it, in pixels of the font.
const (
	charW = 6
	charH = 9
)

// textWidth is the width of a text, pixels, without the space after it.
func textWidth(s string, size int) int { return max(len([]rune(s))*charW-1, 0) * size }

// text writes a text with its top left at p, every pixel of the font a square of
// that size.
func text(dst *image.RGBA, p image.Point, s string, size int, c color.RGBA) {
	for _, r := range s {
		glyph, ok := font[r]
		switch {
		case r == ' ':
		case !ok:
			glyph = []string{"#####", "#...#", "#...#", "#...#", "#...#", "#...#", "#####"}
		}
		for y, row := range glyph {
			for x, dot := range row {
				if dot == '#' {
					fill(dst, image.Rect(x, y, x+1, y+1), size, p, c)
				}
			}
		}
		p.X += charW * size
	}
}

// fill fills a rectangle that is given in squares of a size from p on.
func fill(dst *image.RGBA, r image.Rectangle, size int, p image.Point, c color.RGBA) {
	box := image.Rectangle{Min: r.Min.Mul(size).Add(p), Max: r.Max.Mul(size).Add(p)}
	draw.Draw(dst, box, image.NewUniform(c), image.Point{}, draw.Src)
}

// shorten cuts a text to a width, pixels, with dots for what is left out.
func shorten(s string, size, width int) string {
	r := []rune(s)
	if textWidth(s, size) <= width {
		return s
	}
	for len(r) > 0 && textWidth(string(r)+"...", size) > width {
		r = r[:len(r)-1]
	}
	return string(r) + "..."
}

// enlarge draws the part crop of a screen with its top left at p.
func enlarge(dst *image.RGBA, s *screen.Screen, crop image.Rectangle, scale int, p image.Point) {
	for y := crop.Min.Y; y < crop.Max.Y; y++ {
		first := dst.PixOffset(p.X, p.Y+(y-crop.Min.Y)*scale)
		row := dst.Pix[first : first+4*scale*crop.Dx()]
		for x := crop.Min.X; x < crop.Max.X; x++ {
			i := y*s.W + x
			r, g, b := screen.RGB(s.Y[i], s.Cb[i], s.Cr[i])
			for k := range scale {
				copy(row[4*(scale*(x-crop.Min.X)+k):], []byte{r, g, b, 255})
			}
		}
		for k := 1; k < scale; k++ {
			copy(dst.Pix[first+k*dst.Stride:], row)
		}
	}
}

// blend draws a line over what is there: dark places become lighter and light
// ones darker, by part/256 of the way.
func blend(dst *image.RGBA, r image.Rectangle, part int) {
	r = r.Intersect(dst.Bounds())
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			p := dst.Pix[dst.PixOffset(x, y):]
			to := 255
			if luma, _, _ := screen.YCbCr(p[0], p[1], p[2]); luma >= 128 {
				to = 0
			}
			for k := range 3 {
				p[k] = byte(int(p[k]) + (to-int(p[k]))*part/256)
			}
		}
	}
}

// outline draws a frame of that width just outside of a rectangle.
func outline(dst *image.RGBA, r image.Rectangle, width int, c color.RGBA) {
	o := r.Inset(-width)
	for _, side := range []image.Rectangle{
		{Min: o.Min, Max: image.Pt(o.Max.X, r.Min.Y)},
		{Min: image.Pt(o.Min.X, r.Max.Y), Max: o.Max},
		{Min: image.Pt(o.Min.X, r.Min.Y), Max: image.Pt(r.Min.X, r.Max.Y)},
		{Min: image.Pt(r.Max.X, r.Min.Y), Max: image.Pt(o.Max.X, r.Max.Y)},
	} {
		draw.Draw(dst, side.Intersect(dst.Bounds()), image.NewUniform(c), image.Point{}, draw.Src)
	}
}
