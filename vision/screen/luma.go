package screen

// Luma sums up the luma plane of a picture: levels 0..255.
type Luma struct {
	Min, Max byte
	Mean     float64
}

// Luma measures the luma plane. The zero value is given for a picture without
// pixels.
func (s *Screen) Luma() Luma {
	if len(s.Y) == 0 {
		return Luma{}
	}
	l := Luma{Min: 255}
	var sum uint64
	for _, v := range s.Y {
		l.Min, l.Max = min(l.Min, v), max(l.Max, v)
		sum += uint64(v)
	}
	l.Mean = float64(sum) / float64(len(s.Y))
	return l
}
