package flash

import "latchproof/specs/console"

// together is how long changes of one direction count as one change, seconds: a
// flash may take some frames, and a textured picture does not reach the
// threshold everywhere at once. Our choice, no source.
const together = 0.1

// crowd knows the last change of every cell and tells those that come together
// with others: over more than a quarter of a field.
type crowd struct {
	grid   grid
	field  field
	window console.Frame
	at     []console.Frame // of the cell's last change; never for none
	way    []int8          // its direction, +1 or -1
	taken  []bool          // it was told
	fresh  int             // changes at the frame at hand

	weights []int8
	// What the fields that are flashing cover: up, down, and at this frame.
	covers [3]cover
}

func newCrowd(g grid, hz float64) *crowd {
	n := g.cols * g.rows
	c := &crowd{grid: g, field: newField(g, 0, false), window: max(1, console.Frame(together*hz)), at: make([]console.Frame, n), way: make([]int8, n), taken: make([]bool, n), weights: make([]int8, n)}
	for i := range c.at {
		c.at[i] = never
	}
	for i := range c.covers {
		c.covers[i] = newCover(g)
	}
	return c
}

func (c *crowd) changed(cell int, f console.Frame, way int8) {
	c.at[cell], c.way[cell], c.taken[cell] = f, way, false
	c.fresh++
}

// tell gives the changes that have come together by frame f, each once.
func (c *crowd) tell(f console.Frame, visit func(cell int, way int8)) {
	if c.fresh == 0 {
		return
	}
	c.fresh = 0
	limit := c.grid.limit()
	var recent, now int
	for i, at := range c.at {
		c.weights[i] = 0
		if f-at < c.window {
			c.weights[i] = c.way[i]
			recent += int(c.grid.px[i])
		}
		if at == f {
			now += int(c.grid.px[i])
		}
	}
	if float64(recent) <= limit {
		return
	}
	for i := range c.covers {
		c.covers[i].reset()
	}
	// One direction outweighs the other by so much, within the window.
	wide := len(c.field.x)
	for i, area := range c.field.at(c.weights) {
		switch {
		case area > limit:
			c.covers[0].add(&c.field.x[i%wide], &c.field.y[i/wide])
		case area < -limit:
			c.covers[1].add(&c.field.x[i%wide], &c.field.y[i/wide])
		}
	}
	// So much changes on one frame, in either direction.
	if float64(now) > limit {
		for i, at := range c.at {
			c.weights[i] = 0
			if at == f {
				c.weights[i] = 1
			}
		}
		for i, area := range c.field.at(c.weights) {
			if area > limit {
				c.covers[2].add(&c.field.x[i%wide], &c.field.y[i/wide])
			}
		}
	}
	up, down, same := c.covers[0].cells(), c.covers[1].cells(), c.covers[2].cells()
	for i, at := range c.at {
		if f-at >= c.window || c.taken[i] {
			continue
		}
		if at == f && same[i] || c.way[i] > 0 && up[i] || c.way[i] < 0 && down[i] {
			c.taken[i] = true
			visit(i, c.way[i])
		}
	}
}

// cover is the cells that lie in any of several fields.
type cover struct {
	grid  grid
	any   bool
	edges []int32 // second differences of how many fields a cell lies in
	in    []bool
}

func newCover(g grid) cover {
	return cover{grid: g, edges: make([]int32, (g.cols+1)*(g.rows+1)), in: make([]bool, g.cols*g.rows)}
}

func (c *cover) reset() {
	if c.any {
		clear(c.edges)
		clear(c.in)
		c.any = false
	}
}

func (c *cover) add(x, y *span) {
	c.any = true
	x1, y1 := x.after(), y.after()
	wide := c.grid.cols + 1
	c.edges[y.edge*wide+x.edge]++
	c.edges[y.edge*wide+x1]--
	c.edges[y1*wide+x.edge]--
	c.edges[y1*wide+x1]++
}

func (c *cover) cells() []bool {
	if !c.any {
		return c.in
	}
	wide := c.grid.cols + 1
	for y := range c.grid.rows {
		var row int32
		for x := range c.grid.cols {
			row += c.edges[y*wide+x]
			n := row
			if y > 0 {
				n += c.edges[(y-1)*wide+x] // summed up already
			}
			c.edges[y*wide+x] = n
			c.in[y*c.grid.cols+x] = n > 0
		}
	}
	return c.in
}
