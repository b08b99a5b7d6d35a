package flash

import (
	"math"

	"latchproof/specs/console"
)

// Changes are the changes of one cell with these relative luminances, one a frame,
// and its flashes at that frame rate.
func Changes(second int, luminances ...float64) (changes, flashes int) {
	var c change
	n := newCounter(General, newGrid(4, 4), float64(second))
	for i, l := range luminances {
		n.tick(console.Frame(i))
		if c.next(int32(math.Round(l * unit))) {
			changes++
			n.register(0, console.Frame(i), c.way)
		}
		flashes = max(flashes, int(n.counts[0]))
	}
	return changes, flashes
}

// LightOf is the light of a cell of one colour, as a screen gives it.
func LightOf(w *Watcher, i int) (luminance, r, g, b float64) {
	l := w.light[i]
	return float64(l.l) / unit, float64(l.r), float64(l.g), float64(l.b)
}

// Chromaticity is (u', v') of linear light.
func Chromaticity(r, g, b float64) (u, v float64) {
	x, y := chromaticity(&light{r: float32(r), g: float32(g), b: float32(b)})
	return float64(x), float64(y)
}

// LargestArea is the largest area of hot cells in a field, and that of a field.
func LargestArea(w, h int, hot func(cell int) bool) (area, field float64) {
	g := newGrid(w, h)
	f := newField(g, 60, true)
	weights := make([]int8, g.cols*g.rows)
	for i := range weights {
		if hot(i) {
			weights[i] = 1
		}
	}
	area, _, _ = f.largest(weights)
	return area, g.fieldArea()
}
