package draw

import (
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"strconv"

	"latchproof/vision/screen"
)

// MaxPixels bounds the pictures that are made: 64 million pixels.
const MaxPixels = 1 << 26

// MaxScale is the largest factor.
const MaxScale = 64

// Errors of what cannot be drawn.
var (
	// ErrTooBig says that the picture would have more than MaxPixels.
	ErrTooBig = errors.New("the picture would be too large")
	// ErrOptions says that options make no sense.
	ErrOptions = errors.New("cannot be drawn so")
)

// Options say how a screen is drawn.
type Options struct {
	Scale int             // pixels of the picture per pixel of the raster and side, 1 to MaxScale
	Grid  int             // raster pixels between grid lines; 0: no grid and no coordinates
	Crop  image.Rectangle // the part of the raster to show; empty: all
	Mark  image.Rectangle // a rectangle of the raster to outline; empty: none
	// Caption is written below a picture with a grid.
	Caption string
}

// Picture draws a screen, and gives the place in the picture of the first pixel
// shown. Without Grid and Mark there is no border: the picture is the enlarged
// screen. Errors: ErrTooBig, ErrOptions, screen.ErrOutside (Crop or Mark).
func Picture(s *screen.Screen, o Options) (*image.RGBA, image.Point, error) {
	if o.Crop.Empty() {
		o.Crop = s.Bounds()
	}
	if err := o.check(s); err != nil {
		return nil, image.Point{}, err
	}
	size := o.Crop.Size().Mul(o.Scale)
	var b border
	switch {
	case o.Grid > 0:
		b = o.border()
	case !o.Mark.Empty():
		b.left, b.top, b.right, b.bottom = outlineWidth, outlineWidth, outlineWidth, outlineWidth
	}
	all := image.Rect(0, 0, b.left+size.X+b.right, b.top+size.Y+b.bottom)
	if all.Dx()*all.Dy() > MaxPixels {
		return nil, image.Point{}, fmt.Errorf("%w: %dx%d pixels; choose a smaller scale", ErrTooBig, all.Dx(), all.Dy())
	}
	img := image.NewRGBA(all)
	draw.Draw(img, all, image.NewUniform(paper), image.Point{}, draw.Src)
	origin := image.Pt(b.left, b.top)
	enlarge(img, s, o.Crop, o.Scale, origin)
	if o.Grid > 0 {
		o.lines(img, origin)
		o.numbers(img, origin, b)
	}
	if m := o.Mark.Intersect(o.Crop); !m.Empty() {
		r := image.Rectangle{Min: m.Min.Sub(o.Crop.Min).Mul(o.Scale), Max: m.Max.Sub(o.Crop.Min).Mul(o.Scale)}.Add(origin)
		outline(img, r, 1, color.RGBA{0, 0, 0, 255})
		outline(img, r.Inset(-1), outlineWidth-1, strong)
	}
	return img, origin, nil
}

// outlineWidth is that of an outline with its dark edge.
const outlineWidth = 3

func (o Options) check(s *screen.Screen) error {
	switch {
	case o.Scale < 1 || o.Scale > MaxScale:
		return fmt.Errorf("%w: a scale of %d is not from 1 to %d", ErrOptions, o.Scale, MaxScale)
	case o.Grid < 0:
		return fmt.Errorf("%w: a grid of %d pixels", ErrOptions, o.Grid)
	case o.Grid > 0 && o.Scale < 2:
		return fmt.Errorf("%w: a grid needs a scale of 2 or more, so that its lines leave something of each pixel", ErrOptions)
	case !o.Crop.In(s.Bounds()):
		return fmt.Errorf("%w: %v of %dx%d", screen.ErrOutside, o.Crop, s.W, s.H)
	case !o.Mark.In(s.Bounds()):
		return fmt.Errorf("%w: %v of %dx%d", screen.ErrOutside, o.Mark, s.W, s.H)
	}
	return nil
}

// border is the space around a picture, pixels.
type border struct {
	left, top, right, bottom int
	text                     int // size of the numbers
}

const (
	tick = 4 // length of the line from a number to the picture
	pad  = 3 // space around text
)

func (o Options) textSize() int {
	if o.Scale >= 3 && o.Crop.Dx()*o.Scale >= 400 {
		return 2
	}
	return 1
}

func (o Options) border() border {
	b := border{text: o.textSize()}
	widest := max(textWidth(strconv.Itoa(o.Crop.Max.X-1), b.text), textWidth(strconv.Itoa(o.Crop.Max.Y-1), b.text))
	b.left = max(widest+tick+2*pad, outlineWidth)
	b.right = b.left
	b.top = 7*b.text + tick + 2*pad
	b.bottom = b.top
	if o.Caption != "" {
		b.bottom += charH*b.text + 2*pad
	}
	return b
}

// first is the lowest multiple of step from x on.
func first(x, step int) int { return (x + step - 1) / step * step }

// every is at how many grid lines there is a number, so that those of a width (or
// a height) have space between them.
func (o Options) every(room int) int {
	n := 1
	for n*o.Grid*o.Scale < room {
		n++
	}
	// Round numbers are easier to count from.
	for _, nice := range []int{1, 2, 4, 5, 8, 10, 16, 20, 32, 40, 50, 64, 100, 128} {
		if nice >= n {
			return nice
		}
	}
	return n
}

// steps is how many grid lines there are from number to number, across and down.
func (o Options) steps() (across, down int) {
	size := o.textSize()
	return o.every(textWidth(strconv.Itoa(o.Crop.Max.X-1), size) + 2*charW*size), o.every((7 + 3) * size)
}

// lines draws the grid over the picture; lines with numbers are stronger.
func (o Options) lines(img *image.RGBA, origin image.Point) {
	c := o.Crop
	across, down := o.steps()
	weight := func(n, every int) int {
		if n/o.Grid%every == 0 {
			return 120
		}
		return 60
	}
	size := c.Size().Mul(o.Scale)
	for x := first(c.Min.X, o.Grid); x < c.Max.X; x += o.Grid {
		at := origin.Add(image.Pt((x-c.Min.X)*o.Scale, 0))
		blend(img, image.Rectangle{Min: at, Max: at.Add(image.Pt(1, size.Y))}, weight(x, across))
	}
	for y := first(c.Min.Y, o.Grid); y < c.Max.Y; y += o.Grid {
		at := origin.Add(image.Pt(0, (y-c.Min.Y)*o.Scale))
		blend(img, image.Rectangle{Min: at, Max: at.Add(image.Pt(size.X, 1))}, weight(y, down))
	}
}

// numbers writes the coordinates on all four sides, and the caption.
func (o Options) numbers(img *image.RGBA, origin image.Point, b border) {
	c, size := o.Crop, o.Crop.Size().Mul(o.Scale)
	end := origin.Add(size)
	across, down := o.steps()
	line := func(r image.Rectangle) {
		draw.Draw(img, r, image.NewUniform(faint), image.Point{}, draw.Src)
	}
	for x := first(c.Min.X, o.Grid*across); x < c.Max.X; x += o.Grid * across {
		at, n := origin.X+(x-c.Min.X)*o.Scale, strconv.Itoa(x)
		line(image.Rect(at, origin.Y-tick, at+1, origin.Y))
		line(image.Rect(at, end.Y, at+1, end.Y+tick))
		left := at - textWidth(n, b.text)/2
		text(img, image.Pt(left, pad), n, b.text, ink)
		text(img, image.Pt(left, end.Y+tick+pad), n, b.text, ink)
	}
	for y := first(c.Min.Y, o.Grid*down); y < c.Max.Y; y += o.Grid * down {
		at, n := origin.Y+(y-c.Min.Y)*o.Scale, strconv.Itoa(y)
		line(image.Rect(origin.X-tick, at, origin.X, at+1))
		line(image.Rect(end.X, at, end.X+tick, at+1))
		top := at - 7*b.text/2
		text(img, image.Pt(origin.X-tick-pad-textWidth(n, b.text), top), n, b.text, ink)
		text(img, image.Pt(end.X+tick+pad, top), n, b.text, ink)
	}
	if o.Caption != "" {
		room := img.Bounds().Dx() - 2*pad
		text(img, image.Pt(pad, end.Y+tick+3*pad+7*b.text), shorten(o.Caption, b.text, room), b.text, faint)
	}
}
