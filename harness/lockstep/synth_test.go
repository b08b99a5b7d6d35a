package lockstep_test

import (
	"bytes"
	"image"
	"image/jpeg"
	"math"
	"math/rand/v2"

	"latchproof/vision/screen"
)

// The synthetic screens of these tests: a tiled background that may scroll,
// sprites that walk, digits. From frame `at` on, one thing is otherwise.

type change int

const (
	nothing   change = iota
	stepOne          // a sprite stands one pixel to the right
	stepDown         // a sprite stands one pixel lower
	vanish           // a sprite is gone
	recolour         // one 8x8 tile has another shade
	digit            // one digit of the status line differs
	scrollOne        // the whole background is one pixel further
	changes
)

type scene struct {
	w, h     int
	seed     uint64
	scroll   int // pixels each frame
	contrast int // of sprites against the background, levels
	tiles    [16][64]byte
	cb, cr   [16]byte
	sprites  []sprite
}

type sprite struct {
	x, y, vx, vy int
	look         [256]byte
	cb, cr       byte
}

func newScene(seed uint64, w, h int) *scene {
	r := rand.New(rand.NewPCG(seed, 1))
	s := &scene{w: w, h: h, seed: seed, scroll: r.IntN(3), contrast: 90 + r.IntN(80)}
	for t := range s.tiles {
		base := 30 + r.IntN(60)
		for i := range s.tiles[t] {
			v := base
			if r.IntN(4) == 0 {
				v += r.IntN(40)
			}
			s.tiles[t][i] = byte(v)
		}
		s.cb[t], s.cr[t] = byte(100+r.IntN(56)), byte(100+r.IntN(56))
	}
	for i := 0; i < 4; i++ {
		sp := sprite{x: r.IntN(w - 16), y: 24 + r.IntN(h-48), vx: r.IntN(5) - 2, vy: r.IntN(3) - 1, cb: byte(90 + r.IntN(80)), cr: byte(90 + r.IntN(80))}
		for k := range sp.look {
			x, y := k%16-8, k/16-8
			if x*x+y*y < 66 {
				sp.look[k] = byte(60 + s.contrast + r.IntN(20))
			}
		}
		s.sprites = append(s.sprites, sp)
	}
	return s
}

func wrap(v, n int) int { return ((v % n) + n) % n }

// wraps says whether the first sprite enters the screen anew in frame f.
func (s *scene) wraps(f int) bool {
	p := s.sprites[0]
	at := func(f int) (int, int) { return wrap(p.x+p.vx*f, s.w-16), wrap(p.y+p.vy*f, s.h-32) }
	x0, y0 := at(f - 1)
	x1, y1 := at(f)
	return x1-x0 != p.vx || y1-y0 != p.vy
}

// draw paints frame f; c is what is otherwise in it.
func (s *scene) draw(f int, c change) *screen.Screen {
	out := screen.New(s.w, s.h)
	shift := s.scroll * f
	if c == scrollOne {
		shift++
	}
	for y := 0; y < s.h; y++ {
		for x := 0; x < s.w; x++ {
			xx := x
			if y >= 16 { // below the status line
				xx += shift
			}
			t := (xx/8*7 + y/8*3 + (xx/8*y/8)%5) % 16
			i := y*s.w + x
			out.Y[i] = s.tiles[t][y%8*8+xx%8]
			out.Cb[i], out.Cr[i] = s.cb[t], s.cr[t]
			if y >= 4 && y < 12 && x >= 8 && x < 48 { // five digits
				n := (x - 8) / 8
				v := f / 7
				for k := 4; k > n; k-- {
					v /= 10
				}
				v %= 10
				if c == digit && n == 0 {
					v = (v + 3) % 10
				}
				out.Y[i] = 16
				if digitPixel(v, (x-8)%8, y-4) {
					out.Y[i] = 230
				}
				out.Cb[i], out.Cr[i] = 128, 128
			}
		}
	}
	for n, sp := range s.sprites {
		x0, y0 := wrap(sp.x+sp.vx*f, s.w-16), 16+wrap(sp.y+sp.vy*f, s.h-32)
		if n == 0 {
			switch c {
			case stepOne:
				x0++
			case stepDown:
				y0++
			case vanish:
				continue
			}
		}
		for k, v := range sp.look {
			x, y := x0+k%16, y0+k/16
			if v == 0 || x >= s.w || y >= s.h {
				continue
			}
			i := y*s.w + x
			out.Y[i], out.Cb[i], out.Cr[i] = v, sp.cb, sp.cr
		}
	}
	if c == recolour { // above the sprites too
		for y := s.h / 16 * 8; y < s.h/16*8+8; y++ {
			for x := s.w / 16 * 8; x < s.w/16*8+8; x++ {
				out.Y[y*s.w+x] += 20
			}
		}
	}
	return out
}

// digitPixel draws seven segments in a 7x7 cell.
func digitPixel(d, x, y int) bool {
	segments := [10]int{0x77, 0x24, 0x5d, 0x6d, 0x2e, 0x6b, 0x7b, 0x25, 0x7f, 0x6f}
	on := func(bit int) bool { return segments[d]>>bit&1 == 1 }
	switch {
	case x > 5 || y > 6:
		return false
	case y == 0 && on(0), y == 3 && on(3), y == 6 && on(6):
		return true
	case x == 0 && y < 4 && on(1), x == 5 && y < 4 && on(2), x == 0 && y > 2 && on(4), x == 5 && y > 2 && on(5):
		return true
	}
	return false
}

// card is a capture of one run: sensor noise, gain and offset that drift, and
// JPEG as a motion-JPEG card makes it.
type card struct {
	sigma        float64 // noise of each captured pixel, levels
	gain, offset float64
	drift        float64 // further offset swings by this many levels
	phase        float64
	quality      int // JPEG; 0 for none
	zoom         int // captured pixels for each raster pixel, each way
	// cross is how many levels of luma fully saturated colour leaves behind as
	// the dots of a composite signal: a wave of a third of a turn each half
	// pixel, line and frame, from a phase that differs from run to run.
	cross, turn float64
	r           *rand.Rand
}

func newCard(seed, run uint64) *card {
	both := rand.New(rand.NewPCG(seed, 2)) // the same card for both runs
	c := &card{
		sigma:   [...]float64{0, 0, 1, 2, 4, 8, 12, 20}[both.IntN(8)],
		quality: [...]int{0, 50, 60, 75, 90}[both.IntN(5)],
		zoom:    1 + both.IntN(2),
		r:       rand.New(rand.NewPCG(seed*1000+run, 3)),
	}
	if c.sigma > 8 {
		c.zoom = 2
	}
	c.gain = 1 + (c.r.Float64()-0.5)*0.16
	c.offset = (c.r.Float64() - 0.5) * 16
	c.drift = c.r.Float64() * 4
	c.phase = c.r.Float64() * 6
	return c
}

func clamp(v float64) byte {
	return byte(math.Max(0, math.Min(255, math.Floor(v+0.5))))
}

// shoot captures a screen at frame f and brings it back to the raster.
func (c *card) shoot(s *screen.Screen, f int) *screen.Screen {
	w, h := s.W*c.zoom, s.H*c.zoom
	img := image.NewYCbCr(image.Rect(0, 0, w, h), image.YCbCrSubsampleRatio444)
	off := c.offset + c.drift*math.Sin(c.phase+float64(f)*2*math.Pi/400)
	var bank [4096]float64
	for i := range bank {
		if c.sigma == 0 {
			break
		}
		bank[i] = c.r.NormFloat64() * c.sigma
	}
	noise := func() float64 {
		if c.sigma == 0 {
			return 0
		}
		return bank[c.r.Uint32()&4095]
	}
	for y := 0; y < h; y++ {
		for x := 0; x < w; x++ {
			i := y/c.zoom*s.W + x/c.zoom
			at := y*w + x
			dots := 0.0
			if c.cross > 0 {
				colour := math.Hypot(float64(s.Cb[i])-128, float64(s.Cr[i])-128) / 128
				dots = c.cross * colour * math.Cos(c.turn+2*math.Pi*(float64(x)/float64(c.zoom)/1.5+float64(y/c.zoom+f)/3))
			}
			img.Y[at] = clamp(float64(s.Y[i])*c.gain + off + noise() + dots)
			img.Cb[at] = clamp((float64(s.Cb[i])-128)*c.gain + 128 + noise()/2)
			img.Cr[at] = clamp((float64(s.Cr[i])-128)*c.gain + 128 + noise()/2)
		}
	}
	if c.quality > 0 {
		var buf bytes.Buffer
		if err := jpeg.Encode(&buf, img, &jpeg.Options{Quality: c.quality}); err != nil {
			panic(err)
		}
		back, err := jpeg.Decode(&buf)
		if err != nil {
			panic(err)
		}
		img = back.(*image.YCbCr)
	}
	out := screen.New(s.W, s.H)
	n := c.zoom * c.zoom
	for y := 0; y < s.H; y++ {
		for x := 0; x < s.W; x++ {
			var a, b, d int
			for dy := 0; dy < c.zoom; dy++ {
				for dx := 0; dx < c.zoom; dx++ {
					px, py := x*c.zoom+dx, y*c.zoom+dy
					a += int(img.Y[img.YOffset(px, py)])
					b += int(img.Cb[img.COffset(px, py)])
					d += int(img.Cr[img.COffset(px, py)])
				}
			}
			i := y*s.W + x
			out.Y[i], out.Cb[i], out.Cr[i] = byte((a+n/2)/n), byte((b+n/2)/n), byte((d+n/2)/n)
		}
	}
	return out
}

func rect(x0, y0, x1, y1 int) image.Rectangle { return image.Rect(x0, y0, x1, y1) }
