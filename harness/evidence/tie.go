package evidence

import (
	"fmt"
	"slices"

	"latchproof/harness/lockstep"
	"latchproof/harness/record"
	"latchproof/vision/screen"
)

// ErrTie says that a kept picture is not the one that the trace has of its frame.
var ErrTie = fmt.Errorf("%w: it is not the picture of its frame", ErrPicture)

// Tie holds kept pictures, by capture index, against the trace of their run; rows
// is frames.csv. loose are those that stand for no frame, which no trace has, in
// ascending order. Errors: ErrTie, and those of the trace.
func Tie(trace lockstep.Trace, rows []record.FrameRow, screens map[int]*screen.Screen) (loose []int, err error) {
	cursor, err := trace.Open()
	if err != nil {
		return nil, err
	}
	defer cursor.Close()
	keys := make([]int, 0, len(screens))
	for k := range screens {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	var features lockstep.Features
	for _, k := range keys {
		if k < 0 || k >= len(rows) {
			return nil, fmt.Errorf("%w: picture %d: the capture has %d", ErrTie, k, len(rows))
		}
		s, row := screens[k], rows[k]
		if row.State != record.Fresh {
			loose = append(loose, k)
			continue
		}
		if l := (lockstep.Layout{W: s.W, H: s.H}); l != trace.Layout() {
			return nil, fmt.Errorf("%w: picture %d is of another raster than the trace", ErrTie, k)
		}
		if row.Frame >= trace.Len() {
			return nil, fmt.Errorf("%w: picture %d: the trace ends before frame %d", ErrTie, k, row.Frame)
		}
		if err := cursor.Seek(row.Frame); err != nil {
			return nil, err
		}
		var p lockstep.Picture
		if err := cursor.Next(&p); err != nil {
			return nil, err
		}
		features = lockstep.Extract(s, features)
		if p.Sight != lockstep.Seen {
			return nil, fmt.Errorf("%w: picture %d: the trace has none of frame %d", ErrTie, k, row.Frame)
		}
		if slices.Equal(p.Features, features) {
			continue
		}
		if features.Greyed(); !slices.Equal(p.Features, features) {
			return nil, fmt.Errorf("%w: picture %d: its blocks are not those that the trace has of frame %d", ErrTie, k, row.Frame)
		}
	}
	return loose, nil
}
