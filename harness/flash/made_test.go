package flash_test

import (
	"image"
	"image/color"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/flash"
	"latchproof/harness/lockstep"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

func grey(v uint8) color.RGBA { return color.RGBA{v, v, v, 255} }

var (
	black, white = grey(0), grey(255)
	red          = color.RGBA{255, 0, 0, 255}
)

// fill paints a rectangle.
func fill(s *screen.Screen, r image.Rectangle, c color.RGBA) {
	cy, cb, cr := screen.YCbCr(c.R, c.G, c.B)
	r = r.Intersect(image.Rect(0, 0, s.W, s.H))
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			i := y*s.W + x
			s.Y[i], s.Cb[i], s.Cr[i] = cy, cb, cr
		}
	}
}

// film is a made run: what each frame shows, on a raster, at a rate.
type film struct {
	w, h, frames int
	hz           float64
	unseen       func(f int) bool // nil: none
	draw         func(f int, s *screen.Screen)
}

// screens and traced look at the film in both ways. Features are those that a
// trace holds.
func (m film) screens() flash.Result { return m.watch(true) }
func (m film) traced() flash.Result  { return m.watch(false) }

func (m film) watch(screens bool) flash.Result {
	w, err := flash.New(m.w, m.h, m.hz)
	Expect(err).NotTo(HaveOccurred())
	s := screen.New(m.w, m.h)
	var features lockstep.Features
	for f := range m.frames {
		if m.unseen != nil && m.unseen(f) {
			continue
		}
		m.draw(f, s)
		if screens {
			Expect(w.Screen(console.Frame(f), s)).To(Succeed())
		} else {
			features = lockstep.Extract(s, features)
			Expect(w.Features(console.Frame(f), features)).To(Succeed())
		}
	}
	return w.Finish(console.Frame(m.frames - 1))
}

// both looks in both ways and expects the same of both.
func (m film) both() flash.Result {
	a, b := m.screens(), m.traced()
	ExpectWithOffset(1, b).To(Equal(a), "the trace tells what the screens tell")
	return a
}

// notUnderRace skips what is one goroutine's arithmetic on thousands of pictures.
func notUnderRace() {
	BeforeEach(func() {
		if testing.Short() {
			Skip("pictures take ten times as long under the race detector")
		}
	})
}

func kinds(r flash.Result) (out []flash.Kind) {
	for _, s := range r.Stretches {
		out = append(out, s.Kind)
	}
	return out
}

// blinking is a rectangle that changes between two colours, hz times a second
// there and back, for some seconds of film at 60 a second.
func blinking(w, h int, r image.Rectangle, a, b color.RGBA, hz float64) film {
	return film{w: w, h: h, frames: 300, hz: 60, draw: func(f int, s *screen.Screen) {
		c := a
		if int(2*hz*float64(f)/60+1e-9)%2 == 1 {
			c = b
		}
		fill(s, r, c)
	}}
}
