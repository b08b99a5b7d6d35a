package flash

import (
	"image"
	"math"

	"latchproof/specs/console"
)

// most is how many flashes are allowed in a second.
const most = 3

// never is before any frame.
const never = console.Frame(-1 << 62)

// counter counts the flashes of every cell in the second that ends with the
// frame at hand.
type counter struct {
	kind    Kind
	grid    grid
	second  int             // frames that are less than a second apart, and one
	open    []console.Frame // of a change that waits for its opposite; never for none
	openWay []int8          // its direction
	counts  []int32
	wheel   [][]flashed // by frame modulo second
	held    int         // flashes in the wheel
	hot     int         // pixels of the cells with more than most
	inHot   bool        // a hot cell flashed at this frame

	stretches []Stretch
	field     field
	crowd     *crowd
	weights   []int8
}

// flashed is a flash of a cell, with the frame of its first change.
type flashed struct {
	cell int32
	from console.Frame
}

func newCounter(k Kind, g grid, hz float64) *counter {
	second := int(math.Ceil(hz))
	c := &counter{kind: k, grid: g, second: second, open: make([]console.Frame, g.cols*g.rows), openWay: make([]int8, g.cols*g.rows), counts: make([]int32, g.cols*g.rows), weights: make([]int8, g.cols*g.rows), wheel: make([][]flashed, second)}
	for i := range c.open {
		c.open[i] = never
	}
	c.field = newField(g, second, true)
	c.crowd = newCrowd(g, hz)
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
			c.hot -= int(c.grid.px[x.cell])
		}
	}
	c.held -= len(*slot)
	*slot = (*slot)[:0]
}

// idle says that the next frames without a picture change nothing.
func (c *counter) idle() bool { return c.held == 0 }

// register takes a change of a cell that came together with others.
func (c *counter) register(cell int, f console.Frame, way int8) {
	from := c.open[cell]
	if from == never || f-from >= console.Frame(c.second) || c.openWay[cell] == way {
		c.open[cell], c.openWay[cell] = f, way
		return
	}
	c.open[cell] = never
	slot := c.slot(f)
	*slot = append(*slot, flashed{int32(cell), from})
	c.held++
	if c.counts[cell]++; c.counts[cell] == most+1 {
		c.hot += int(c.grid.px[cell])
	}
	c.inHot = c.inHot || c.counts[cell] > most
}

// judge ends a frame that has a picture; unseen gives how many frames up to one
// within the last two seconds had none.
func (c *counter) judge(f console.Frame, unseen func(console.Frame) int64) {
	c.crowd.tell(f, func(cell int, way int8) { c.register(cell, f, way) })
	if !c.inHot || float64(c.hot) <= c.grid.limit() {
		return
	}
	for i, n := range c.counts {
		c.weights[i] = 0
		if n > most {
			c.weights[i] = 1
		}
	}
	area, x, y := c.field.largest(c.weights)
	if area <= c.grid.limit() {
		return
	}
	flashes := c.field.worst(c.counts, x, y)
	if n := len(c.stretches); n == 0 || f-c.stretches[n-1].To >= console.Frame(c.second) {
		from := c.earliest(f)
		if n == 0 || from > c.stretches[n-1].To {
			c.stretches = append(c.stretches, Stretch{Kind: c.kind, From: from, To: from})
		}
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
