package vision

import "math"

// Contrast is the standard deviation of the luma of the used pixels, levels.
func (t *Template) Contrast() float64 {
	return math.Sqrt(float64(t.variance)) / float64(t.n)
}

// Used is how many pixels are used.
func (t *Template) Used() int { return int(t.n) }

// At is the luma of the pixel (x, y) of the template, and whether it is used.
func (t *Template) At(x, y int) (luma byte, used bool) {
	i := y*t.w + x
	return t.luma[i], t.mask == nil || t.mask[i] == 1
}
