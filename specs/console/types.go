package console

import "time"

// Frame is the number of a console frame. Frame 0 is the frame of the first
// controller read after reset. It is a distinct type so that frames, reads and
// capture indexes are never mixed.
type Frame int64

// Rate is an exact frequency in hertz: Num/Den.
type Rate struct{ Num, Den int64 }

// Hz is the rate as a float.
func (r Rate) Hz() float64 { return float64(r.Num) / float64(r.Den) }

// Period is the length of one frame in seconds.
func (r Rate) Period() float64 { return float64(r.Den) / float64(r.Num) }

// Profile describes a console as the harness needs to know it.
type Profile struct {
	Name          string
	About         string
	Width, Height int           // raster, pixels
	Rate          Rate          // exact frame rate
	Derivation    string        // how Rate follows from the crystal
	Buttons       []string      // shift order: Buttons[0] is the first bit shifted out and bit 0 of a program.State
	Ports         int           // controller ports, 1 or 2
	ReadsPerFrame int           // reads a game is expected to make per frame
	BurstGap      time.Duration // latch pulses closer together than this are one read
	LatchActive   string        // "high" or "low"
}
