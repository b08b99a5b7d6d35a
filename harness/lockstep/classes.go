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
	rough  [2][]int32 // with a border of zeros all around
	class  []uint8
}

// classOf is the class of a roughness; 1 may be the dark one.
var classOf = func() (out [maxFeature + 1]uint8) {
	for w := range out {
		out[w] = 1
		for k, limit := range []int{4 / Unit, 12 / Unit, 30 / Unit} {
			if w >= limit {
				out[w] = uint8(2 + k)
			}
		}
	}
	return out
}()

func newSorter(l Layout) sorter {
	n := (l.Cols() + 2) * (l.Rows() + 2)
	return sorter{l, [2][]int32{make([]int32, n), make([]int32, n)}, make([]uint8, l.Blocks())}
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
				v0, v1, v2, v3 := int32(v[0]), int32(v[1]), int32(v[2]), int32(v[3])
				out[x] = upper(upper(v0, v1), upper(v2, v3)) - lower(lower(v0, v1), lower(v2, v3))
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
			m := upper(upper(upper(p0[x], p2[x]), upper(p1[x], p1[x+2])), p1[x+1])
			n := upper(upper(upper(q0[x], q2[x]), upper(q1[x], q1[x+2])), q1[x+1])
			w := lower(m, n)
			if out[x] = classOf[w]; out[x] == 1 {
				v := (*[4]uint16)(a[(y*cols+x)*perBlock:])
				if v[0]+v[1]+v[2]+v[3] < 4*darkLevel {
					out[x] = 0
				}
			}
		}
	}
}
