package flash

import (
	"math"

	"latchproof/harness/lockstep"
	"latchproof/vision/screen"
)

// light is the light of a cell.
type light struct {
	l       int32   // relative luminance in units of 1e-6, 0 to 1e6
	r, g, b float32 // linear, 0 to 1
}

// unit is that of luminances; whole numbers hold the threshold of 0.10 exactly.
const unit = 1_000_000

func (c *light) set(r, g, b float32) {
	c.r, c.g, c.b = r, g, b
	c.l = int32((0.2126*r+0.7152*g+0.0722*b)*unit + 0.5)
}

// linear is the linear light of a coded value from 0 to 1: relative luminance as
// WCAG 2.2 defines it.
func linear(v float64) float64 {
	if v <= 0.04045 {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}

// The tables hold linear light for coded values, in levels from -margin on; what
// lies outside 0 to 255 is clipped. quarters has four entries a level.
const margin = 256

var levels, quarters = linearTable(1), linearTable(4)

func linearTable(steps int) []float32 {
	t := make([]float32, (margin+256+margin)*steps)
	for i := range t {
		v := float64(i-margin*steps) / float64(steps) / 255
		t[i] = float32(linear(min(max(v, 0), 1)))
	}
	return t
}

// Full range colour differences of BT.601 to R, G and B, scaled by 65536
// (Recommendation ITU-T T.871).
const crR, cbG, crG, cbB = 91881, -22554, -46802, 116130

const round = 1 << 15

// parts are what a colour difference adds to R, G and B.
var parts = func() (t [256]struct{ crR, cbG, crG, cbB int32 }) {
	for i := range t {
		d := int32(i - 128)
		t[i].crR, t[i].cbG, t[i].crG, t[i].cbB = (crR*d+round)>>16, cbG*d, crG*d, (cbB*d+round)>>16
	}
	return t
}()

// ofScreen takes the mean of linear light over each cell.
func (w *Watcher) ofScreen(s *screen.Screen) {
	table := levels[:(margin + 256 + margin):(margin + 256 + margin)]
	i := 0
	for y0 := 0; y0 < s.H; y0 += side {
		y1 := min(y0+side, s.H)
		for x0 := 0; x0 < s.W; x0 += side {
			x1 := min(x0+side, s.W)
			var r, g, b float32
			for y := y0; y < y1; y++ {
				luma, cbs, crs := s.Y[y*s.W+x0:y*s.W+x1], s.Cb[y*s.W+x0:y*s.W+x1], s.Cr[y*s.W+x0:y*s.W+x1]
				for k, v := range luma {
					cb, cr := &parts[cbs[k]], &parts[crs[k]]
					at := int32(v) + margin
					r += table[at+cr.crR]
					g += table[at+(cb.cbG+cr.crG+round)>>16]
					b += table[at+cb.cbB]
				}
			}
			n := 1 / float32((y1-y0)*(x1-x0))
			w.light[i].set(r*n, g*n, b*n)
			i++
		}
	}
}

// ofFeatures takes each cell for one of a single colour, that of the means.
func (w *Watcher) ofFeatures(fs lockstep.Features) {
	const perBlock, zero = 6, 128 * 4
	layout := lockstep.Layout{W: w.w, H: w.h}
	cols := layout.Cols()
	for b := range layout.Blocks() {
		f := fs[b*perBlock : (b+1)*perBlock]
		cb, cr := int32(f[4])-zero, int32(f[5])-zero
		dr, dg, db := (crR*cr+round)>>16, (cbG*cb+crG*cr+round)>>16, (cbB*cb+round)>>16
		x, y := b%cols*2, b/cols*2
		for k := range 4 {
			cx, cy := x+k&1, y+k>>1
			if cx >= w.grid.cols || cy >= w.grid.rows {
				continue
			}
			at := int32(f[k]) + margin*4
			w.light[cy*w.grid.cols+cx].set(quarters[at+dr], quarters[at+dg], quarters[at+db])
		}
	}
}
