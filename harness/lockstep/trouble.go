package lockstep

import "latchproof/specs/console"

// troubled says whether the pictures of a frame, which differ at a shift of k,
// look like trouble of the capture, judged by the pictures before and after:
//
//   - torn or given again: below some line all of one run's picture is that of
//     the other's neighbouring frame, and above it that of the frame itself; or
//     the other way round; or all of it is the neighbour's;
//   - damaged: where they differ, one run's picture changes from the frame
//     before and to the frame after by half of the difference (of squares) or
//     more, and by twice of what the other's does.
func (c *comparison) troubled(r *reading, k int) bool {
	f := r.frame
	a, b := c.album[0], c.album[1]
	s := f - console.Frame(k) // of a
	here := [2]Features{a.at(s), b.at(f)}
	if len(here[0]) == 0 || len(here[1]) == 0 || len(r.over) == 0 {
		return false
	}
	// Torn: b's picture against a's neighbours, a's against b's.
	for _, d := range []console.Frame{-1, 1} {
		if p := a.near(s+d, d); len(p) > 0 && c.tornLike(r, p, here[1]) {
			return true
		}
		if p := b.near(f+d, d); len(p) > 0 && c.tornLike(r, here[0], p) {
			return true
		}
	}
	// Damaged.
	c.m.hold(here[0], here[1], &c.m.planes, &c.spare[0])
	apart := c.energy(r.over)
	var least, most [2]float64 // of what changes before and after
	for run, near := range [2][2]Features{{a.near(s-1, -1), a.near(s+1, 1)}, {b.near(f-1, -1), b.near(f+1, 1)}} {
		if len(near[0]) == 0 || len(near[1]) == 0 {
			return false
		}
		c.m.hold(near[0], here[run], &same, &c.spare[0])
		before := c.energy(r.over)
		c.m.hold(here[run], near[1], &same, &c.spare[0])
		after := c.energy(r.over)
		least[run], most[run] = min(before, after), max(before, after)
	}
	for run := range least {
		if 2*least[run] > apart && least[run] > 2*most[1-run] {
			return true
		}
	}
	return false
}

// energy is the sum of squares of what the last two pictures measured differ by
// in some blocks.
func (c *comparison) energy(blocks []int) (sum float64) {
	for _, i := range blocks {
		sum += float64(c.m.sum[i].four) + float64(c.m.sum[i].two)
	}
	return sum
}

// tornLike says whether the reading r of a frame and the comparison of one of
// its pictures with the other run's neighbour part at a line across.
func (c *comparison) tornLike(r *reading, a, b Features) bool {
	x := &c.spare[0]
	if c.m.hold(a, b, &c.m.planes, x); len(x.over) == 0 {
		return x.score <= 1
	}
	cols := c.layout.Cols()
	// Blocks are in rows from the top, so the first and last tell the rows.
	top, bottom := r.over[0]/cols, r.over[len(r.over)-1]/cols
	top2, bottom2 := x.over[0]/cols, x.over[len(x.over)-1]/cols
	line := bottom
	switch {
	case bottom <= top2:
	case bottom2 <= top:
		line = top
	default:
		return false
	}
	// A line within a row of blocks lets both differ in that row.
	faint := c.set(x.faint)
	beside, both := 0, 0
	for _, i := range r.over {
		if i/cols != line {
			beside++
		}
		if faint[i] {
			both++
			if i/cols != line {
				return false
			}
		}
	}
	return beside > 1 && 3*beside >= len(r.over) || 4*both <= len(r.over)
}

// set is blocks as a place, valid until the next call.
func (c *comparison) set(blocks []int) place {
	if len(c.marks) == 0 {
		c.marks = make(place, c.layout.Blocks())
	}
	clear(c.marks)
	for _, i := range blocks {
		c.marks[i] = true
	}
	return c.marks
}
