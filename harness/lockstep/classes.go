package lockstep

// classes is how many classes of blocks there are: dark and smooth, then ever
// rougher; the limits between are 4, 12 and 30 levels.
const (
	classes   = 5
	darkLevel = 16 / Unit
)

// sorter sorts blocks into classes by how rough the picture is around them: the
// codec errs more where there is more to draw, and noise is cut off where it is
// dark. A block counts as the smoother of what the two runs show, so that what
// one run alone shows does not excuse itself.
type sorter struct {
	layout Layout
	rough  [2][]uint16 // with a border of zeros all around
	class  []uint8
}

func newSorter(l Layout) sorter {
	n := (l.Cols() + 2) * (l.Rows() + 2)
	return sorter{l, [2][]uint16{make([]uint16, n), make([]uint16, n)}, make([]uint8, l.Blocks())}
}

func (s *sorter) sort(a, b Features) {
	cols, rows := s.layout.Cols(), s.layout.Rows()
	wide := cols + 2
	for k, f := range [2]Features{a, b} {
		for y := range rows {
			out := s.rough[k][(y+1)*wide+1:][:cols]
			in := f[y*cols*perBlock:][:cols*perBlock]
			for x := range out {
				v := (*[4]uint16)(in[x*perBlock:])
				lo, hi := min(v[0], v[1]), max(v[0], v[1])
				lo2, hi2 := min(v[2], v[3]), max(v[2], v[3])
				out[x] = max(hi, hi2) - min(lo, lo2)
			}
		}
	}
	p, q := s.rough[0], s.rough[1]
	for y := range rows {
		at := (y+1)*wide + 1
		p0, p1, p2 := p[at-wide:][:cols], p[at-1:][:cols+2], p[at+wide:][:cols]
		q0, q1, q2 := q[at-wide:][:cols], q[at-1:][:cols+2], q[at+wide:][:cols]
		out := s.class[y*cols:][:cols]
		for x := range out {
			m := max(p0[x], p1[x], p1[x+1], p1[x+2], p2[x])
			n := max(q0[x], q1[x], q1[x+1], q1[x+2], q2[x])
			w := min(m, n)
			switch {
			case w >= 30/Unit:
				out[x] = 4
			case w >= 12/Unit:
				out[x] = 3
			case w >= 4/Unit:
				out[x] = 2
			default:
				v := (*[4]uint16)(a[(y*cols+x)*perBlock:])
				out[x] = 1
				if v[0]+v[1]+v[2]+v[3] < 4*darkLevel {
					out[x] = 0
				}
			}
		}
	}
}
