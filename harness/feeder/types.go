package feeder

import "time"

// Latch is one latch pulse as the board logged it. One console read can be
// several latch pulses closer together than the profile's burst gap.
type Latch struct {
	Index   int64  // count of latch pulses since reset, from 0
	Micros  int64  // board clock, microseconds, unwrapped to 64 bits
	Clocks  uint8  // clock pulses counted on port 1 after this latch
	Clocks2 uint8  // the same on port 2
	P1, P2  uint16 // the state served; bit i is button i, 1 is pressed
}

// Identity is what a board says it is.
type Identity struct {
	Protocol int    // wire protocol version
	Serial   string // serial number
	Board    string // board revision
	Firmware string // firmware version
	Capacity int    // program runs that its buffer holds
	Ports    int
}

// Sync is one time exchange: host clock before sending and after receiving,
// and the board's clock in between.
type Sync struct {
	Sent, Received time.Duration // host clock
	Micros         int64         // board clock, unwrapped
}

// StartKind is how a run starts.
type StartKind uint8

// The ways to start a run.
const (
	StartReset StartKind = iota // pulse the reset line
	StartPower                  // cut and restore power
)

// Clock is the host's clock. The simulated bench brings a virtual one.
type Clock interface {
	Now() time.Duration
}
