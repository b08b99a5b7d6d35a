package harness

import (
	"context"
	"image"
	"io"
	"time"

	"latchproof/harness/feeder"
	"latchproof/harness/judge"
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

// Capture is a card that records its own stream to a file; the harness never
// encodes it again.
type Capture interface {
	// Start begins recording to path and returns when pictures flow.
	Start(ctx context.Context, path string) error
	// Stop ends the recording and gives the host-clock instant of every
	// picture in the file, in order.
	Stop(ctx context.Context) ([]time.Duration, error)
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
