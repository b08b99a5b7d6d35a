package draw

import (
	"image"
	"image/color"
)

// Font is the alphabet.
var Font = font

// Ink is the colour of numbers.
var Ink color.RGBA = ink

// Text draws a text at p.
func Text(dst *image.RGBA, p image.Point, s string, size int) { text(dst, p, s, size, ink) }

// TextWidth and Shorten measure and cut texts.
var (
	TextWidth = textWidth
	Shorten   = shorten
)

// Numbered gives the coordinates that get a number across, and the size of the
// text.
func Numbered(o Options) (xs []int, size int) {
	across, _ := o.steps()
	for x := first(o.Crop.Min.X, o.Grid*across); x < o.Crop.Max.X; x += o.Grid * across {
		xs = append(xs, x)
	}
	return xs, o.textSize()
}
