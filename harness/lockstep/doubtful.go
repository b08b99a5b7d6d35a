package lockstep

// Doubtful says why a parting may be no more than one of the frame clocks or of
// the capture card, so that nothing can be said of the runs; empty when it is
// the runs that part, and for nil.
func (d *Divergence) Doubtful() string {
	switch {
	case d == nil:
		return ""
	case d.Clocks:
		return "the frame clocks of the runs contradict one another, so one of them is wrong"
	case d.Kind == KindShift && d.Part == PartCard:
		return "the pictures come at another time while the reads keep their frames, which is the capture card's doing"
	}
	return ""
}
