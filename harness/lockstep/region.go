package lockstep

import (
	"image"

	"latchproof/specs/console"
)

// reading is what the meter says of a pair of pictures.
type reading struct {
	frame console.Frame
	score float64 // worst block, or the whole, in multiples of the threshold; above 1 differs
	whole float64 // the whole picture in multiples of its threshold
	// over and faint are the blocks beyond the threshold and beyond that of the
	// look back, in rising order.
	over, faint []int
	level       []float32 // of the faint ones, in multiples of the threshold
	// asked: troubled says whether the picture looks like trouble of the capture.
	asked, troubled bool
}

func (r *reading) differs() bool { return r.score > 1 }

// amplitude is how far the worst block of a place is beyond the noise.
func (r *reading) amplitude(p place) (most float64) {
	for n, i := range r.faint {
		if p[i] {
			most = max(most, float64(r.level[n]))
		}
	}
	return most
}

// region bounds the blocks beyond the threshold, on the raster; the whole of it
// when no block is, but the picture as a whole.
func (r *reading) region(l Layout) image.Rectangle {
	if len(r.over) == 0 {
		return image.Rect(0, 0, l.W, l.H)
	}
	return bounds(r.over, l)
}

// bounds is the smallest rectangle around blocks, on the raster.
func bounds(blocks []int, l Layout) (out image.Rectangle) {
	cols := l.Cols()
	for _, i := range blocks {
		x, y := i%cols*8, i/cols*8
		out = out.Union(image.Rect(x, y, min(x+8, l.W), min(y+8, l.H)))
	}
	return out
}

// grown is blocks with the eight neighbours of each.
func grown(blocks []int, l Layout) place {
	p := make(place, l.Blocks())
	p.grow(blocks, l)
	return p
}

// place is a set of blocks: one bool for each of the raster.
type place []bool

// grow adds blocks and the eight neighbours of each.
func (p place) grow(blocks []int, l Layout) {
	cols, rows := l.Cols(), l.Rows()
	for _, i := range blocks {
		x, y := i%cols, i/cols
		for yy := max(0, y-1); yy <= min(rows-1, y+1); yy++ {
			for xx := max(0, x-1); xx <= min(cols-1, x+1); xx++ {
				p[yy*cols+xx] = true
			}
		}
	}
}

// in gives those of the blocks that lie in the place.
func (p place) in(blocks []int) (out []int) {
	for _, b := range blocks {
		if p[b] {
			out = append(out, b)
		}
	}
	return out
}
