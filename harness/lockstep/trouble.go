package lockstep

import "latchproof/specs/console"

// troubled says whether the pictures of a frame, which differ at a shift of k,
// look like trouble of the capture, judged by the pictures before and after:
//
//   - torn or given again: below some line all of one run's picture is that of
//     the other's neighbouring frame, and above it that of the frame itself; or
//     the other way round; or all of it is the neighbour's;
//   - damaged: where it differs, one run's picture is unlike its own of the
//     frames before and after, while the other's keeps still there.
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
	around := [2][2]Features{{a.near(s-1, -1), a.near(s+1, 1)}, {b.near(f-1, -1), b.near(f+1, 1)}}
	var unlike, moving [2]int
	for run := range around {
		before, after := around[run][0], around[run][1]
		if len(before) == 0 || len(after) == 0 {
			return false
		}
		x, y := &c.spare[0], &c.spare[1]
		c.m.measure(before, here[run], &same, x)
		c.m.measure(here[run], after, &same, y)
		left, right := c.set(x.over), place(nil)
		for _, i := range r.over {
			if left[i] {
				unlike[run]++
			}
		}
		right = c.set(y.over)
		both := 0
		for _, i := range r.over {
			if right[i] {
				both++
			}
		}
		moving[run] = max(unlike[run], both)
		unlike[run] = min(unlike[run], both)
	}
	n := len(r.over)
	for run := range unlike {
		if 4*unlike[run] >= 3*n && 4*moving[1-run] <= n {
			return true
		}
	}
	return false
}

// tornLike says whether the reading r of a frame and the comparison of one of
// its pictures with the other run's neighbour part at a line across.
func (c *comparison) tornLike(r *reading, a, b Features) bool {
	x := &c.spare[0]
	if c.m.measure(a, b, &c.m.planes, x); len(x.over) == 0 {
		return x.score <= 1
	}
	cols := c.layout.Cols()
	// Blocks are in rows from the top, so the first and last tell the rows. A
	// line within a row of blocks lets both differ in it.
	top, bottom := r.over[0]/cols, r.over[len(r.over)-1]/cols
	top2, bottom2 := x.over[0]/cols, x.over[len(x.over)-1]/cols
	if bottom > top2 && bottom2 > top {
		return false
	}
	return 4*len(c.set(x.over).in(r.over)) <= len(r.over)
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
