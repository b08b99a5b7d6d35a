package draft

import (
	"cmp"
	"image"
	"math"
	"slices"

	"latchproof/vision/screen"
)

// MinContrast is the least contrast of a template, levels: with noise of half of
// it the score is still 0.89 (harness/checks gives the formula).
const MinContrast = 16

// step is the grid of candidates, and sizes are their sides, pixels.
const step = 8

var sizes = []image.Point{{X: 16, Y: 16}, {X: 24, Y: 24}, {X: 32, Y: 16}, {X: 16, Y: 32}, {X: 32, Y: 32}}

// searched is how many candidates are searched for on their own screen.
const searched = 20

// candidate is a part of a screen that may become a template.
type candidate struct {
	in       image.Rectangle
	contrast float64
	corner   float64
}

// candidates are the most corner-like parts of a screen, best first, none of which
// overlaps a better one by half or more.
func candidates(s *screen.Screen) []candidate {
	t := newTables(s)
	var all []candidate
	for _, size := range sizes {
		for y := 0; y+size.Y <= s.H; y += step {
			for x := 0; x+size.X <= s.W; x += step {
				c := t.candidate(image.Rectangle{Min: image.Pt(x, y), Max: image.Pt(x+size.X, y+size.Y)})
				if c.contrast >= MinContrast {
					all = append(all, c)
				}
			}
		}
	}
	slices.SortStableFunc(all, func(a, b candidate) int { return cmp.Compare(b.corner, a.corner) })
	var out []candidate
	for _, c := range all {
		overlaps := func(o candidate) bool {
			both := c.in.Intersect(o.in)
			return 2*both.Dx()*both.Dy() >= min(area(c.in), area(o.in))
		}
		if !slices.ContainsFunc(out, overlaps) {
			if out = append(out, c); len(out) == searched {
				break
			}
		}
	}
	return out
}

func area(r image.Rectangle) int { return r.Dx() * r.Dy() }

// tables are sums over all rectangles that begin at the top left corner.
type tables struct {
	w                     int
	sum, square           []float64
	across, down, athwart []float64
}

func newTables(s *screen.Screen) *tables {
	t := &tables{w: s.W + 1}
	n := (s.W + 1) * (s.H + 1)
	t.sum, t.square = make([]float64, n), make([]float64, n)
	t.across, t.down, t.athwart = make([]float64, n), make([]float64, n), make([]float64, n)
	at := func(x, y int) float64 { return float64(s.Y[min(max(y, 0), s.H-1)*s.W+min(max(x, 0), s.W-1)]) }
	for y := range s.H {
		for x := range s.W {
			v := at(x, y)
			gx, gy := (at(x+1, y)-at(x-1, y))/2, (at(x, y+1)-at(x, y-1))/2
			for _, add := range []struct {
				table []float64
				v     float64
			}{{t.sum, v}, {t.square, v * v}, {t.across, gx * gx}, {t.down, gy * gy}, {t.athwart, gx * gy}} {
				i := (y+1)*t.w + x + 1
				add.table[i] = add.v + add.table[i-1] + add.table[i-t.w] - add.table[i-t.w-1]
			}
		}
	}
	return t
}

// over is a sum over a rectangle.
func (t *tables) over(table []float64, r image.Rectangle) float64 {
	return table[r.Max.Y*t.w+r.Max.X] - table[r.Min.Y*t.w+r.Max.X] - table[r.Max.Y*t.w+r.Min.X] + table[r.Min.Y*t.w+r.Min.X]
}

// candidate measures a rectangle.
func (t *tables) candidate(r image.Rectangle) candidate {
	n := float64(area(r))
	mean := t.over(t.sum, r) / n
	// Gradients at the edge of the rectangle look at pixels outside of it, which a
	// template does not have.
	inner := r.Inset(1)
	xx, yy, xy := t.over(t.across, inner), t.over(t.down, inner), t.over(t.athwart, inner)
	smaller := (xx+yy)/2 - math.Sqrt((xx-yy)*(xx-yy)/4+xy*xy)
	return candidate{in: r, contrast: math.Sqrt(max(t.over(t.square, r)/n-mean*mean, 0)), corner: smaller}
}
