package reports

import (
	"image"
	"image/color"
	"image/draw"
	"math"

	"golang.org/x/image/vector"
)

// A point of a shape, in a square of 24 units as the page's symbols are.
type dot24 struct{ x, y float64 }

// sign draws the verdict's shape into the square at (x, y): a disc with a tick, an
// octagon with a cross, or a dashed diamond with a question mark.
func drawSign(dst draw.Image, class string, x, y, side int, c, on color.Color) {
	s := signer{dst, x, y, float64(side) / 24}
	switch class {
	case "yes":
		s.fill(c, round24(12, 12, 11)...)
		s.stroke(on, 2.6, dot24{6.5, 12.5}, dot24{10.5, 16.5}, dot24{18, 8})
	case "no":
		s.fill(c, dot24{7.5, 1}, dot24{16.5, 1}, dot24{23, 7.5}, dot24{23, 16.5}, dot24{16.5, 23}, dot24{7.5, 23}, dot24{1, 16.5}, dot24{1, 7.5})
		s.stroke(on, 2.6, dot24{8, 8}, dot24{16, 16})
		s.stroke(on, 2.6, dot24{16, 8}, dot24{8, 16})
	default:
		corners := []dot24{{12, 1.5}, {22.5, 12}, {12, 22.5}, {1.5, 12}, {12, 1.5}}
		for i := range 4 {
			for _, part := range [][2]float64{{0, 0.22}, {0.37, 0.63}, {0.78, 1}} {
				s.stroke(c, 2, between24(corners[i], corners[i+1], part[0]), between24(corners[i], corners[i+1], part[1]))
			}
		}
		var hook []dot24
		for a := -160.0; a <= 90; a += 10 { // degrees, clockwise from the right
			hook = append(hook, dot24{12.1 + 2.9*math.Cos(a*math.Pi/180), 9.6 + 2.9*math.Sin(a*math.Pi/180)})
		}
		s.stroke(c, 2, append(hook, dot24{12.1, 14.2})...)
		s.fill(c, round24(12.1, 17.3, 1.3)...)
	}
}

func between24(a, b dot24, t float64) dot24 {
	return dot24{a.x + (b.x-a.x)*t, a.y + (b.y-a.y)*t}
}

func round24(x, y, r float64) (out []dot24) {
	for i := range 64 {
		a := float64(i) * math.Pi / 32
		out = append(out, dot24{x + r*math.Cos(a), y + r*math.Sin(a)})
	}
	return out
}

type signer struct {
	dst  draw.Image
	x, y int
	unit float64
}

func (s signer) fill(c color.Color, ps ...dot24) {
	side := int(math.Ceil(24 * s.unit))
	r := vector.NewRasterizer(side, side)
	for i, p := range ps {
		x, y := float32(p.x*s.unit), float32(p.y*s.unit)
		if i == 0 {
			r.MoveTo(x, y)
		} else {
			r.LineTo(x, y)
		}
	}
	r.ClosePath()
	r.Draw(s.dst, image.Rect(s.x, s.y, s.x+side, s.y+side), image.NewUniform(c), image.Point{})
}

// stroke draws a line with round ends.
func (s signer) stroke(c color.Color, wide float64, ps ...dot24) {
	for i, p := range ps {
		s.fill(c, round24(p.x, p.y, wide/2)...)
		if i == 0 {
			continue
		}
		q := ps[i-1]
		l := math.Hypot(p.x-q.x, p.y-q.y)
		if l == 0 {
			continue
		}
		nx, ny := (p.y-q.y)/l*wide/2, -(p.x-q.x)/l*wide/2
		s.fill(c, dot24{q.x + nx, q.y + ny}, dot24{p.x + nx, p.y + ny}, dot24{p.x - nx, p.y - ny}, dot24{q.x - nx, q.y - ny})
	}
}
