package flash

import "image"

// side is that of a cell, raster pixels.
const side = 4

// The area rule of WCAG 2.2 for a screen whose size to the eye is not known: a
// rectangle of 341x256 pixels on a screen of 1024x768, and a quarter of it.
const (
	fieldW, fieldH         = 341. / 1024, 256. / 768
	quarter                = 0.25
	roundOff       float64 = 1e-6 // pixels; areas are sums of a few hundred products
)

// grid is the cells of a raster.
type grid struct {
	w, h, cols, rows int
	px               []int32 // pixels of each cell
}

func newGrid(w, h int) grid {
	g := grid{w: w, h: h, cols: (w + side - 1) / side, rows: (h + side - 1) / side}
	g.px = make([]int32, g.cols*g.rows)
	for i := range g.px {
		r := g.rect(i)
		g.px[i] = int32(r.Dx() * r.Dy())
	}
	return g
}

// rect is a cell on the raster.
func (g grid) rect(i int) image.Rectangle {
	x, y := i%g.cols*side, i/g.cols*side
	return image.Rect(x, y, min(x+side, g.w), min(y+side, g.h))
}

// fieldArea is that of a field, raster pixels.
func (g grid) fieldArea() float64 { return fieldW * float64(g.w) * fieldH * float64(g.h) }

// limit is the area that may flash in a field: more is too much.
func (g grid) limit() float64 { return quarter*g.fieldArea() + roundOff }
