package vision

// #include "resample.h"
// #include <libswscale/swscale.h>
import "C"

import (
	"fmt"
	"image"
	"math"
	"unsafe"

	"latchproof/vision/screen"
)

// Lines are the rows of a captured picture that are looked at.
type Lines int

// A woven picture holds two fields: the top one in rows 0, 2, 4... and the
// bottom one in rows 1, 3, 5...
const (
	AllLines Lines = iota
	TopLines
	BottomLines
)

// kernel brings one kind of picture to the raster. It is made anew when
// anything in kernelKey changes.
type kernel struct {
	key    kernelKey
	planes int
	rgb    bool
	x, y   [3]axis
	from   [3]int32 // 1/256
	to     [3]int32 // 1/256
	matrix [9]int32 // 1/16384
	made   [3][]uint16
	room   []byte
}

type kernelKey struct {
	format, location, matrix C.int
	full, fields             bool
	size                     image.Point
	active                   image.Rectangle
	w, h                     int
	lines                    Lines
}

// Picture sets dst from a decoded picture, or from one field of a woven one;
// dst is given the raster's size. With a field Active still counts rows of the
// whole picture, and the rows of the field inside it are used. It gives
// ErrNoPicture, ErrSize (no raster, or one that is smaller than the picture by
// more than maxTaps) or ErrOutside.
//
// The planes are resampled as they are, each in its own resolution: raster
// pixels are area-weighted means, or linear between samples on an axis where
// there are fewer samples than pixels. Chroma samples are where the stream says
// that they are sited, and where the codec's standard puts them when it does
// not. Then range and matrix as the stream says are converted to full range
// BT.601; a stream that does not say is limited range (JPEG and grey: full)
// BT.601. Before the one rounding to 8 bits the arithmetic is off by less than
// 0.1 level up to 8 captured pixels for one of the raster on either axis.
//
// Chroma with half the vertical resolution (4:2:0) belongs to single fields
// only if the stream calls itself interlaced; if it does not, the chroma of a
// field is a mixture with the other field's, since it was captured so.
func (n *Normalizer) Picture(p *Picture, lines Lines, dst *screen.Screen) error {
	if p.frame == nil {
		return ErrNoPicture
	}
	if n.W < 1 || n.H < 1 {
		return fmt.Errorf("%w: raster %dx%d", ErrSize, n.W, n.H)
	}
	frame := p.frame
	var layout C.lp_layout
	if C.lp_layout_of(frame, &layout) == 0 {
		if n.plain == nil {
			n.plain = newFrame()
		}
		c := takeConverter()
		r := C.lp_simplify(frame, n.plain, &c)
		giveConverter(c)
		if r < 0 {
			return fmt.Errorf("picture cannot be converted: %w", errLibrary(r))
		}
		frame = n.plain
		if C.lp_layout_of(frame, &layout) == 0 {
			return fmt.Errorf("%w: pixel format %d", ErrSize, int(frame.format))
		}
	}
	whole := image.Rect(0, 0, int(frame.width), int(frame.height))
	active := n.Active
	if active.Empty() {
		active = whole
	}
	if !active.In(whole) {
		return fmt.Errorf("%w: active %v of a picture of %dx%d", ErrOutside, active, whole.Max.X, whole.Max.Y)
	}
	// Not what the container says: Motion JPEG codes a woven picture whole, and
	// each of its chroma rows is of both fields.
	woven := frame.interlaced_frame != 0
	key := kernelKey{
		format: C.int(frame.format), location: C.int(frame.chroma_location), matrix: C.int(frame.colorspace),
		full: layout.full != 0, fields: woven, size: whole.Max, active: active, w: n.W, h: n.H, lines: lines,
	}
	if n.kernel == nil || n.kernel.key != key {
		k, err := makeKernel(key, &layout)
		if err != nil {
			return err
		}
		n.kernel = k
	}
	n.kernel.run(&layout, dst)
	return nil
}

// makeKernel works out all weights, and checks that they stay inside the
// planes.
func makeKernel(key kernelKey, layout *C.lp_layout) (*kernel, error) {
	k := &kernel{key: key, planes: int(layout.planes), rgb: layout.rgb != 0}
	rows := rowsOf(key.lines, key.active)
	if rows.to <= rows.from {
		return nil, fmt.Errorf("%w: active %v has no row of the field", ErrOutside, key.active)
	}
	room := 0
	for i := range k.planes {
		sx, sy := 0, 0
		if i > 0 && !k.rgb {
			sx, sy = int(layout.shift_x), int(layout.shift_y)
		}
		place := locationOf(key.location)
		left, right := place.across(float64(key.active.Min.X), sx), place.across(float64(key.active.Max.X), sx)
		w, h := int(layout.plane[i].w), rows.lines(int(layout.plane[i].h))
		top, bottom := float64(rows.from), float64(rows.to)
		switch {
		case sy > 0 && key.lines != AllLines && !key.fields:
			// Rows of chroma that both fields share.
			h = int(layout.plane[i].h)
			top, bottom = place.down(float64(key.active.Min.Y), sy), place.down(float64(key.active.Max.Y), sy)
		case sy > 0 && key.lines != AllLines:
			top, bottom = fieldDown(top, key.lines, sy), fieldDown(bottom, key.lines, sy)
		case sy > 0:
			top, bottom = place.down(top, sy), place.down(bottom, sy)
		}
		k.x[i], k.y[i] = inside(left, right, key.w, w), inside(top, bottom, key.h, h)
		if k.x[i].taps+k.y[i].taps > maxTaps {
			return nil, fmt.Errorf("%w: %v of a picture is too much for a raster of %dx%d", ErrSize, key.active.Size(), key.w, key.h)
		}
		if !k.x[i].fits(w) || !k.y[i].fits(h) {
			return nil, fmt.Errorf("%w: active %v", ErrOutside, key.active)
		}
		k.made[i] = make([]uint16, key.w*key.h)
		room = max(room, int(C.lp_resample_scratch(C.int(k.x[i].hi-k.x[i].lo), C.int(key.w))))
	}
	k.room = make([]byte, room)
	k.colour()
	return k, nil
}

// inside divides from..to of size samples, using none that lies wholly outside
// of from..to.
func inside(from, to float64, n, size int) axis {
	lo, hi := max(int(math.Floor(from+1e-9)), 0), min(int(math.Ceil(to-1e-9)), size)
	lo = min(lo, size-1)
	return makeAxis(from, to, n, lo, max(hi, lo+1))
}

// fits says whether all samples that are used exist.
func (x *axis) fits(size int) bool {
	for _, f := range x.first {
		if f < 0 || int(f)+x.taps > size {
			return false
		}
	}
	return x.lo >= 0 && x.hi <= size
}

// run resamples the planes and converts the colour.
func (k *kernel) run(layout *C.lp_layout, dst *screen.Screen) {
	w, h := k.key.w, k.key.h
	n := w * h
	if dst.W != w || dst.H != h || len(dst.Y) != n || len(dst.Cb) != n || len(dst.Cr) != n {
		*dst = *screen.New(w, h)
	}
	for i := range k.planes {
		plane := layout.plane[i]
		if k.key.lines != AllLines && (k.key.fields || i == 0 || k.rgb || layout.shift_y == 0) {
			if k.key.lines == BottomLines {
				plane.data = (*C.uint8_t)(unsafe.Add(unsafe.Pointer(plane.data), plane.stride))
			}
			plane.stride *= 2
		}
		x, y := &k.x[i], &k.y[i]
		C.lp_resample(&plane, C.int(x.lo), C.int(x.hi),
			(*C.int32_t)(&y.first[0]), (*C.uint16_t)(&y.weight[0]), (*C.uint16_t)(&y.bias[0]), C.int(y.taps), C.int(h),
			(*C.int32_t)(&x.first[0]), (*C.uint16_t)(&x.weight[0]), (*C.uint16_t)(&x.bias[0]), C.int(x.taps), C.int(w),
			(*C.uint16_t)(&k.made[i][0]), (*C.uint8_t)(&k.room[0]))
	}
	a, b, c := k.made[0], k.made[1], k.made[2]
	if k.planes == 1 {
		b, c = a, a // their factors are 0
	}
	C.lp_colour((*C.uint16_t)(&a[0]), (*C.uint16_t)(&b[0]), (*C.uint16_t)(&c[0]), C.int(n),
		(*C.int32_t)(&k.matrix[0]), (*C.int32_t)(&k.from[0]), (*C.int32_t)(&k.to[0]),
		(*C.uint8_t)(&dst.Y[0]), (*C.uint8_t)(&dst.Cb[0]), (*C.uint8_t)(&dst.Cr[0]))
}
