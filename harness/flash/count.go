package flash

import (
	"image"

	"latchproof/specs/console"
)

// most is how many flashes are allowed in a second.
const most = 3

// never is before any frame.
const never = console.Frame(-1 << 62)

// counter counts the flashes of every cell in the second that ends with the
// frame at hand.
type counter struct {
	kind   Kind
	grid   grid
	second int             // frames that are less than a second apart, and one
	open   []console.Frame // of a change that waits for its opposite; never for none
	counts []int32
	wheel  [][]flashed // by frame modulo second
	held   int         // flashes in the wheel
	hot    int         // pixels of the cells with more than most
	inHot  bool        // a hot cell flashed at this frame

	stretches []Stretch
	field     field
}

// flashed is a flash of a cell, with the frame of its first change.
type flashed struct {
	cell int32
	from console.Frame
}

func newCounter(k Kind, g grid, second int) *counter {
	c := &counter{kind: k, grid: g, second: second, open: make([]console.Frame, g.cols*g.rows), counts: make([]int32, g.cols*g.rows), wheel: make([][]flashed, second)}
	for i := range c.open {
		c.open[i] = never
	}
	c.field = newField(g, second)
	return c
}

func (c *counter) slot(f console.Frame) *[]flashed {
	n := console.Frame(c.second)
	return &c.wheel[((f%n)+n)%n]
}

// tick begins a frame: what is a second ago goes.
func (c *counter) tick(f console.Frame) {
	c.inHot = false
	slot := c.slot(f)
	for _, x := range *slot {
		if c.counts[x.cell]--; c.counts[x.cell] == most {
			c.hot -= c.grid.pixels(int(x.cell))
		}
	}
	c.held -= len(*slot)
	*slot = (*slot)[:0]
}

// idle says that the next frames without a picture change nothing.
func (c *counter) idle() bool { return c.held == 0 }

// changed takes a change of a cell.
func (c *counter) changed(cell int, f console.Frame) {
	from := c.open[cell]
	if from == never || f-from >= console.Frame(c.second) {
		c.open[cell] = f
		return
	}
	c.open[cell] = never
	slot := c.slot(f)
	*slot = append(*slot, flashed{int32(cell), from})
	c.held++
	if c.counts[cell]++; c.counts[cell] == most+1 {
		c.hot += c.grid.pixels(cell)
	}
	c.inHot = c.inHot || c.counts[cell] > most
}

// judge ends a frame that has a picture; unseen gives how many frames up to one
// within the last two seconds had none.
func (c *counter) judge(f console.Frame, unseen func(console.Frame) int64) {
	if !c.inHot || float64(c.hot) <= c.grid.limit() {
		return
	}
	area, x, y := c.field.most(c.counts)
	if area <= c.grid.limit() {
		return
	}
	from, flashes := c.earliest(f), c.field.worst(c.counts, x, y)
	if n := len(c.stretches); n == 0 || from > c.stretches[n-1].To {
		c.stretches = append(c.stretches, Stretch{Kind: c.kind, From: from, To: from})
	}
	s := &c.stretches[len(c.stretches)-1]
	s.Unseen += unseen(f) - unseen(max(s.To, f-2*console.Frame(c.second)))
	s.To = f
	s.Flashes = max(s.Flashes, flashes)
	if share := area / c.grid.fieldArea(); share > s.Area {
		s.Area, s.Place = share, c.bounds()
	}
}

// earliest is the frame of the first change of the flashes of hot cells.
func (c *counter) earliest(f console.Frame) console.Frame {
	from := f
	for _, slot := range c.wheel {
		for _, x := range slot {
			if c.counts[x.cell] > most {
				from = min(from, x.from)
			}
		}
	}
	return from
}

// bounds bounds the hot cells.
func (c *counter) bounds() image.Rectangle {
	var out image.Rectangle
	for i, n := range c.counts {
		if n > most {
			out = out.Union(c.grid.rect(i))
		}
	}
	return out
}
