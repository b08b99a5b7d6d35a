package vision

// #include "libav.h"
import "C"

import "image"

// rows are the lines of a picture or a field that lie in the active rectangle,
// numbered within the picture or the field.
type rows struct {
	field    Lines
	from, to int
}

func rowsOf(lines Lines, active image.Rectangle) rows {
	switch lines {
	case TopLines: // line k is row 2k
		return rows{lines, (active.Min.Y + 1) / 2, (active.Max.Y + 1) / 2}
	case BottomLines: // line k is row 2k+1
		return rows{lines, active.Min.Y / 2, active.Max.Y / 2}
	}
	return rows{lines, active.Min.Y, active.Max.Y}
}

// lines is how many of the rows of a plane belong to the field.
func (r rows) lines(height int) int {
	switch r.field {
	case TopLines:
		return (height + 1) / 2
	case BottomLines:
		return height / 2
	}
	return height
}

// location is where chroma samples are sited: on the first of the luma samples
// that they stand for, or between them. The names are those of Recommendation
// ITU-T H.264, figure E-1.
type location struct{ left, top, bottom bool }

func locationOf(l C.int) location {
	switch l {
	case C.AVCHROMA_LOC_CENTER: // JPEG (JFIF), MPEG-1
		return location{}
	case C.AVCHROMA_LOC_TOPLEFT:
		return location{left: true, top: true}
	case C.AVCHROMA_LOC_TOP:
		return location{top: true}
	case C.AVCHROMA_LOC_BOTTOMLEFT:
		return location{left: true, bottom: true}
	case C.AVCHROMA_LOC_BOTTOM:
		return location{bottom: true}
	}
	return location{left: true} // MPEG-2, H.264 and H.265 when nothing is said
}

// across turns a place in luma samples (sample i fills i..i+1) into one in
// chroma samples that are 2^shift times as wide. Sample j is centred on luma
// place 2^shift·j + 0.5 when sited left, and 2^shift·(j+0.5) when between.
func (l location) across(x float64, shift int) float64 {
	f := float64(int(1) << shift)
	if l.left {
		x += (f - 1) / 2
	}
	return x / f
}

// down is the same for rows.
func (l location) down(y float64, shift int) float64 {
	f := float64(int(1) << shift)
	switch {
	case l.top:
		y += (f - 1) / 2
	case l.bottom:
		y -= (f - 1) / 2
	}
	return y / f
}

// fieldDown is down within a field of an interlaced picture with half the
// rows of chroma: chroma rows are a quarter of a line of the field nearer to
// the line above in the top field, and to the line below in the bottom field
// (Recommendation ITU-T H.262, figure 6-2; H.264, figure 6-2).
func fieldDown(y float64, field Lines, shift int) float64 {
	f := float64(int(1) << shift)
	quarter := (f - 1) / 4
	if field == BottomLines {
		quarter = -quarter
	}
	return (y + quarter) / f
}
