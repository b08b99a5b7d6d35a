package draw

import (
	"fmt"
	"image"
	"image/draw"

	"latchproof/vision/screen"
)

// Sheet is a contact sheet: pictures of one size in rows, each with two lines
// below it.
type Sheet struct {
	img     *image.RGBA
	raster  image.Point
	scale   int
	columns int
	cells   int
	top     int // height of the title
	text    int // size of the text
}

const gap = 8 // pixels between cells

// NewSheet makes a sheet for so many screens of a raster, in columns (0: as many
// as make the sheet about 1,400 pixels wide). All cells are empty and unlabelled.
// Errors: ErrTooBig, ErrOptions.
func NewSheet(title string, raster image.Point, cells, columns, scale int) (*Sheet, error) {
	if cells < 1 || columns < 0 || scale < 1 || scale > MaxScale {
		return nil, fmt.Errorf("%w: %d pictures in %d columns at a scale of %d", ErrOptions, cells, columns, scale)
	}
	sh := &Sheet{raster: raster, scale: scale, columns: columns, cells: cells, text: 1}
	if raster.X*scale >= 240 {
		sh.text = 2
	}
	w, h := sh.cell()
	if columns == 0 {
		sh.columns = max(1, 1400/(w+gap))
	}
	sh.columns = min(sh.columns, cells)
	sh.top = charH*sh.text + gap
	rows := (cells + sh.columns - 1) / sh.columns
	size := image.Pt(gap+sh.columns*(w+gap), sh.top+gap+rows*(h+gap))
	if size.X > MaxPixels/size.Y {
		return nil, fmt.Errorf("%w: %d pictures make %dx%d pixels; show fewer frames", ErrTooBig, cells, size.X, size.Y)
	}
	sh.img = image.NewRGBA(image.Rectangle{Max: size})
	draw.Draw(sh.img, sh.img.Bounds(), image.NewUniform(paper), image.Point{}, draw.Src)
	text(sh.img, image.Pt(gap, gap), shorten(title, sh.text, size.X-2*gap), sh.text, faint)
	for i := range cells {
		p := sh.Place(i)
		draw.Draw(sh.img, image.Rectangle{Min: p, Max: p.Add(raster.Mul(scale))}, image.NewUniform(cell), image.Point{}, draw.Src)
	}
	return sh, nil
}

// cell is the size of a picture with its two lines.
func (sh *Sheet) cell() (w, h int) {
	return sh.raster.X * sh.scale, sh.raster.Y*sh.scale + pad + 2*sh.text*(charH+1)
}

// Place is where the picture of cell i, from 0 in reading order, begins.
func (sh *Sheet) Place(i int) image.Point {
	w, h := sh.cell()
	return image.Pt(gap+i%sh.columns*(w+gap), sh.top+gap+i/sh.columns*(h+gap))
}

// Put draws a screen into a cell. It is an error when it is not of the raster.
func (sh *Sheet) Put(i int, s *screen.Screen) error {
	if s.W != sh.raster.X || s.H != sh.raster.Y {
		return fmt.Errorf("%w: a screen of %dx%d on a sheet of %dx%d", ErrOptions, s.W, s.H, sh.raster.X, sh.raster.Y)
	}
	enlarge(sh.img, s, s.Bounds(), sh.scale, sh.Place(i))
	return nil
}

// Empty writes into an empty cell why there is no picture, one word or two.
func (sh *Sheet) Empty(i int, why string) {
	size := sh.raster.Mul(sh.scale)
	why = shorten(why, sh.text, size.X)
	at := sh.Place(i).Add(image.Pt((size.X-textWidth(why, sh.text))/2, (size.Y-7*sh.text)/2))
	text(sh.img, at, why, sh.text, faint)
}

// Label writes the two lines below a cell; what does not fit is cut short.
func (sh *Sheet) Label(i int, line, mark string) {
	p := sh.Place(i).Add(image.Pt(0, sh.raster.Y*sh.scale+pad))
	width := sh.raster.X * sh.scale
	text(sh.img, p, shorten(line, sh.text, width), sh.text, ink)
	p.Y += (charH + 1) * sh.text
	text(sh.img, p, shorten(mark, sh.text, width), sh.text, strong)
}

// Image is the sheet.
func (sh *Sheet) Image() *image.RGBA { return sh.img }
