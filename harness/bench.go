package harness

import (
	"context"
	"image"
	"io"
	"time"

	"latchproof/harness/feeder"
	"latchproof/harness/judge"
	"latchproof/harness/live"
)

// Bench is one console, one feeder board and one capture card. Simulated and
// real benches differ only behind this interface.
type Bench interface {
	// Describe says what the bench is made of.
	Describe() BenchInfo
	// Open readies the bench for repeat number n (from 1).
	Open(ctx context.Context, n int) (Session, error)
}

// Session is a bench made ready for one run.
type Session interface {
	// Link is the open serial line to the feeder board.
	Link() io.ReadWriteCloser
	// Clock is the host's clock, which also stamps the captured pictures.
	Clock() feeder.Clock
	// Capture is the capture card, or nil when the bench has none.
	Capture() Capture
	// Close releases the bench. The link is closed too.
	Close() error
}

// Capture is a card whose stream is recorded to a file, once and for all: nothing
// is encoded again with loss. It may also be Viewable, Accountable and Breakable.
type Capture interface {
	// Start begins recording to path and returns when pictures flow.
	Start(ctx context.Context, path string) error
	// Stop ends the recording and gives the host-clock instant of every
	// picture in the file, in order.
	Stop(ctx context.Context) ([]time.Duration, error)
}

// Viewable is a Capture whose pictures can be looked at while it records.
type Viewable interface {
	// View sets who is shown the pictures, before Start. It is called from one
	// goroutine; a picture is its own until it returns. What a picture costs to
	// look at never holds up the recording of a real card.
	View(func(live.Buffer))
}

// Accountable is a Capture that knows what was lost.
type Accountable interface {
	// Report is the account of the recording; ask after Stop.
	Report() live.Account
}

// Breakable is a Capture that tells when it cannot go on, so that the run need
// not be played to its end; Stop says why.
type Breakable interface {
	// Broken is closed then.
	Broken() <-chan struct{}
}

// BenchInfo names the parts of a bench and its calibration.
type BenchInfo struct {
	Name      string `json:"name"`
	Console   Part   `json:"console"`
	Feeder    Part   `json:"feeder"`
	Card      Part   `json:"card"`
	Simulated bool   `json:"simulated"`
	// Latency of the card, from the console's read to the stamp of the picture
	// that shows its frame, with the half width of its uncertainty. Both zero
	// means that it was never calibrated.
	Latency     time.Duration `json:"latency_ns"`
	LatencyHalf time.Duration `json:"latency_half_ns"`
	// CaptureRate is the card's nominal rate of pictures in its file, hertz.
	CaptureRate float64 `json:"capture_rate_hz"`
	// Active is where the console's raster lies in the captured picture; empty
	// means the whole picture.
	Active image.Rectangle `json:"active"`
	// Fields says whether captured pictures are woven of two fields.
	Fields judge.Fields `json:"fields,omitempty"`
}

// Part is one piece of equipment.
type Part struct {
	Model    string `json:"model"`
	Serial   string `json:"serial"`
	Revision string `json:"revision"`
	Firmware string `json:"firmware,omitempty"`
}
