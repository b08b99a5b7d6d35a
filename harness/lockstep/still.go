package lockstep

// noteCut forgets the known noise when both runs change to another scene: what
// is drawn next may be noisier.
func (m *meter) noteCut(moved float64) {
	if len(m.moves.v) > 0 && moved > 2*m.moves.top()+cutMove {
		m.known = [classes][2]ring{}
		m.top = noises{}
		m.moves = ring{}
		m.steady = steady{}
	}
	m.moves.put(moved, knownFrames)
}

// stillNoise notes how much a run's picture differs from the one before in the
// quarter of the features that change least: motion does not reach it unless
// three quarters of the picture move. It gives back how much the luma moved: the
// 75 % quantile.
func (m *meter) stillNoise(run int, f Features) (moved float64) {
	prev := m.before[run]
	if len(prev) == len(f) {
		h := &m.hist[0]
		h[0].reset()
		h[1].reset()
		var n, most, mostC int32
		for i := 0; i < len(f); i += perBlock * m.few {
			x, y := (*[perBlock]uint16)(f[i:]), (*[perBlock]uint16)(prev[i:])
			for k := range 4 {
				d := size(int32(x[k]) - int32(y[k]))
				most = max(most, d)
				h[0].count(d)
			}
			for k := 4; k < perBlock; k++ {
				d := size(int32(x[k]) - int32(y[k]))
				mostC = max(mostC, d)
				h[1].count(d)
			}
			n++
		}
		h[0].seal(4*n, most)
		h[1].seal(2*n, mostC)
		for c := range m.still {
			// 0.3186 is the standard normal quantile at 5/8: a quarter of |Z|
			// lies below it.
			m.still[c].put(h[c].quantile(0.25)/0.3186393639643752, 2*stillFrames)
		}
		moved = h[0].quantile(0.75)
	}
	m.before[run] = append(prev[:0], f...)
	return moved
}
