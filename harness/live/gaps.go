package live

import (
	"math"
	"time"
)

// Gap is a place of the recording where pictures are missing.
type Gap struct {
	// After is the last picture of the file before the gap; -1 when it is before
	// the first.
	After int64 `json:"after"`
	Card  int64 `json:"card,omitempty"` // lost by the card or its driver
	Ours  int64 `json:"ours,omitempty"` // lost by this program
}

// counter tells how many pictures the card lost before each that came: by its own
// count where it has one, otherwise by the time between them. Times of arrival
// tell nothing, since a picture that comes late is not lost.
type counter struct {
	period time.Duration // 0: unknown
	last   Buffer
	any    bool
}

// lost is the number of pictures lost between the last one and b. A count that
// goes back (the card began anew) tells nothing either; then the time does.
func (c *counter) lost(b Buffer) int64 {
	was, any := c.last, c.any
	c.last, c.any = Buffer{Seq: b.Seq, Stamp: b.Stamp, Media: b.Media, Flags: b.Flags}, true
	if !any {
		return 0
	}
	if b.Flags&was.Flags&HasSeq != 0 && b.Seq > was.Seq {
		return int64(b.Seq - was.Seq - 1)
	}
	step := b.Stamp - was.Stamp
	switch {
	case b.Flags&was.Flags&HasMedia != 0:
		step = b.Media - was.Media
	case (b.Flags|was.Flags)&Late != 0:
		return 0
	}
	if c.period <= 0 || step <= 0 {
		return 0
	}
	return max(0, int64(math.Round(float64(step)/float64(c.period)))-1)
}
