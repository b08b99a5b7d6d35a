package flash

// field finds the field with the largest flashing area. The area inside a
// rectangle that moves over cells is linear between the places where one of its
// edges meets an edge of a cell, so the largest is at such a place.
type field struct {
	grid  grid
	x, y  []span    // where a field may lie
	sums  []float64 // pixels above and left of each corner of a cell
	rows  []float64 // of sums, within each span of x
	found []float64 // the area at each place
	// areas is the pixels with each number of flashes.
	areas []float64
}

// span is where a field lies along an axis, in raster pixels, and its two ends as
// a cell edge and a share of the cell after it.
type span struct {
	from, to        float64
	edge, endEdge   int
	share, endShare float64
}

// after is the first cell that lies wholly after the span.
func (s *span) after() int {
	if s.endShare < roundOff {
		return s.endEdge
	}
	return s.endEdge + 1
}

// newField makes a field; fine for all places that matter, or else for those that
// begin with a cell and the last: a quarter as many, which miss no more than a
// part of a cell's width and height of the largest area.
func newField(g grid, second int, fine bool) field {
	f := field{grid: g, x: spans(g.w, g.cols, fieldW*float64(g.w), fine), y: spans(g.h, g.rows, fieldH*float64(g.h), fine)}
	f.found = make([]float64, len(f.x)*len(f.y))
	f.sums = make([]float64, (g.cols+1)*(g.rows+1))
	f.rows = make([]float64, len(f.x)*(g.rows+1))
	f.areas = make([]float64, second+1)
	return f
}

// spans are the places of a length along an axis of n pixels at which it begins
// or ends with a cell.
func spans(n, cells int, length float64, fine bool) (out []span) {
	end := float64(n)
	put := func(from float64) {
		if from < 0 || from+length > end+roundOff {
			return
		}
		s := span{from: from, to: min(from+length, end)}
		s.edge, s.share = split(s.from, n, cells)
		s.endEdge, s.endShare = split(s.to, n, cells)
		out = append(out, s)
	}
	for i := range cells + 1 {
		at := float64(min(i*side, n))
		put(at)
		if fine || at == end {
			put(at - length)
		}
	}
	return out
}

// split is a place on an axis as the edge of a cell and a share of that cell.
func split(at float64, n, cells int) (edge int, share float64) {
	edge = min(int(at)/side, cells-1)
	wide := min(side, n-edge*side)
	return edge, (at - float64(edge*side)) / float64(wide)
}

// at gives, for every place, row by row, the area of the cells in the field
// there, raster pixels, each cell times its weight. It is good until the next call.
func (f *field) at(weights []int8) []float64 {
	g, wide := f.grid, f.grid.cols+1
	for cy := range g.rows {
		var row float64
		above, out := f.sums[cy*wide+1:(cy+1)*wide], f.sums[(cy+1)*wide+1:(cy+2)*wide]
		px := g.px[cy*g.cols : (cy+1)*g.cols]
		for cx, w := range weights[cy*g.cols : (cy+1)*g.cols] {
			row += float64(int32(w) * px[cx])
			out[cx] = above[cx] + row
		}
	}
	n := len(f.x)
	for r := range g.rows + 1 {
		sums, out := f.sums[r*wide:(r+1)*wide], f.rows[r*n:(r+1)*n]
		for i := range f.x {
			s := &f.x[i]
			out[i] = between(sums[s.endEdge], sums[s.endEdge+1], s.endShare) - between(sums[s.edge], sums[s.edge+1], s.share)
		}
	}
	for j := range f.y {
		s := &f.y[j]
		a, b, c, d := f.rows[s.edge*n:][:n], f.rows[(s.edge+1)*n:][:n], f.rows[s.endEdge*n:][:n], f.rows[(s.endEdge+1)*n:][:n]
		out := f.found[j*n:][:n]
		for i := range out {
			out[i] = between(c[i], d[i], s.endShare) - between(a[i], b[i], s.share)
		}
	}
	return f.found
}

// largest is the largest area at any place, and the place.
func (f *field) largest(weights []int8) (area float64, x, y span) {
	best := 0
	found := f.at(weights)
	for i, v := range found {
		if v > found[best] {
			best = i
		}
	}
	return found[best], f.x[best%len(f.x)], f.y[best/len(f.x)]
}

func between(a, b, share float64) float64 { return a + (b-a)*share }

// worst is the largest number of flashes that more than the allowed area of a
// field has.
func (f *field) worst(counts []int32, x, y span) int {
	g := f.grid
	areas := f.areas
	clear(areas)
	top := int32(0)
	for cy := y.edge; cy < min(y.endEdge+1, g.rows); cy++ {
		for cx := x.edge; cx < min(x.endEdge+1, g.cols); cx++ {
			n := counts[cy*g.cols+cx]
			if n <= most {
				continue
			}
			areas[n] += overlap(cx, g.w, x) * overlap(cy, g.h, y)
			top = max(top, n)
		}
	}
	sum := 0.0
	for n := top; n > most; n-- {
		if sum += areas[n]; sum > g.limit() {
			return int(n)
		}
	}
	return most + 1 // the area is larger by no more than rounding
}

// overlap is how many pixels of cell i lie in a span.
func overlap(i, n int, s span) float64 {
	return max(0, min(s.to, float64(min((i+1)*side, n)))-max(s.from, float64(i*side)))
}
