package v4l2

import (
	"image"
	"time"

	"latchproof/harness/live"
)

// Options name a device and what it must deliver.
type Options struct {
	Path   string // such as /dev/video0
	Format live.Format
	Size   image.Point
	// Rate of the pictures, hertz; 0 leaves what the driver has. One that the
	// driver does not take is ErrNoCard.
	Rate float64
	// Now is the host's clock, which the stamps are brought to. Required.
	Now func() time.Duration
	// Buffers is how many the driver is asked for. Default 8.
	Buffers int
	// Silence is how long no picture may come before the signal is asked for.
	// Default 1 s.
	Silence time.Duration
}
