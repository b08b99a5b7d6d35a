package reports

// Window is the pictures of both runs around a divergence, frame by frame. It is
// not written as JSON: its pictures are for the page, and its reads are those of
// the run records.
type Window struct {
	Frames []WindowFrame `json:"-"` // ascending, without gaps
}

// WindowFrame is one frame of a window.
type WindowFrame struct {
	Frame int64      `json:"-"`
	A     WindowSide `json:"-"`
	B     WindowSide `json:"-"`
}

// WindowSide is what is known of a frame in one of the two runs.
type WindowSide struct {
	Picture *Picture `json:"-"` // PNG: pixel for pixel what the comparison saw; JPEG: nearly; nil: unseen
	Unseen  string   `json:"-"` // why there is no picture, when there is none
	Reads   string   `json:"-"` // as in ReadAt
	// The program line in force, 0 for none, and the last mark before it with the
	// distance in reads.
	Line     int    `json:"-"`
	LineText string `json:"-"`
	Mark     string `json:"-"`
}
