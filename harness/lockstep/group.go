package lockstep

// group takes together the luma of two by two blocks: what moves shows at its
// edges, in several blocks. Groups beyond the threshold count for those
// of their blocks that make an eighth of them or more.
func (m *meter) group(scale noises) {
	var inv [classes]float32
	for c := range inv {
		s := scale[c][0] * tailFactor(scale[c][0])
		inv[c] = float32(1 / (s * s))
	}
	for i := range m.sum {
		m.unit[i] = float32(m.sum[i].four) * inv[m.sorter.class[i]]
	}
	clear(m.groups)
	cols := m.layout.Cols()
	for y := range m.layout.Rows() - 1 {
		up, low := m.unit[y*cols:][:cols], m.unit[(y+1)*cols:][:cols]
		left := up[0] + low[0]
		for x := 1; x < cols; x++ {
			right := up[x] + low[x]
			sum := left + right
			left = right
			if sum <= m.strong.square {
				continue
			}
			for _, i := range [4]int{y*cols + x - 1, y*cols + x, (y+1)*cols + x - 1, (y+1)*cols + x} {
				if m.unit[i] >= sum/8 {
					m.groups[i] = max(m.groups[i], sum)
				}
			}
		}
	}
}
