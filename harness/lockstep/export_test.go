package lockstep

// Predict is predict.
func Predict(n int) float64 { return predict(n) }

// Tries is Compare, with how many pairs of pictures were compared in looking
// for shifts.
func Tries(a, b Run) (Report, int64, error) {
	c := &comparison{run: [2]Run{a, b}, layout: a.Trace.Layout(), album: [2]*album{newAlbum(a), newAlbum(b)}}
	rep, _, err := c.compare(0)
	return rep, c.tries, err
}
