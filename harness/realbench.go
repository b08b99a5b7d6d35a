package harness

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"latchproof/harness/feeder"
	"latchproof/harness/live"
	"latchproof/harness/live/v4l2"
)

// RealBench is a bench with a feeder on a serial port and, when its file names
// one, a card that is captured live.
type RealBench struct{ file BenchFile }

// NewRealBench is the bench that a file describes.
func NewRealBench(f BenchFile) *RealBench { return &RealBench{f} }

// Describe implements Bench.
func (b *RealBench) Describe() BenchInfo { return b.file.Info }

// Open implements Bench: it opens the serial port. The card is opened when its
// recording starts.
func (b *RealBench) Open(context.Context, int) (Session, error) {
	link, err := feeder.Dial(b.file.Port)
	if err != nil {
		return nil, err
	}
	s := &realSession{link: link}
	if b.file.Card.any() {
		s.capture = live.New(live.Options{
			Open: b.openCard, Now: hostClock{}.Now, Latency: b.file.Info.Latency, Rate: b.file.Info.CaptureRate,
		})
	}
	return s, nil
}

// openCard opens the device or the stream.
func (b *RealBench) openCard(ctx context.Context) (live.Source, error) {
	card, rate := b.file.Card, b.file.Info.CaptureRate
	if card.Stream != "" {
		ctx, cancel := context.WithTimeout(ctx, streamPatience)
		defer cancel()
		return live.OpenStream(ctx, live.StreamOptions{
			Path: card.Stream, Format: card.Format, Size: card.Size, Rate: rate, Now: hostClock{}.Now,
		})
	}
	return v4l2.Open(v4l2.Options{Path: card.Device, Format: card.Format, Size: card.Size, Rate: rate, Now: hostClock{}.Now})
}

// streamPatience is how long the program that writes a stream may take to begin.
const streamPatience = 10 * time.Second

type realSession struct {
	link    io.ReadWriteCloser
	capture *live.Capture // nil: no card
}

func (s *realSession) Link() io.ReadWriteCloser { return s.link }
func (s *realSession) Clock() feeder.Clock      { return hostClock{} }

func (s *realSession) Capture() Capture {
	if s.capture == nil {
		return nil
	}
	return s.capture
}

func (s *realSession) Close() error {
	_ = s.link.Close() // the feeder's client closed it before; twice is no fault
	if s.capture == nil {
		return nil
	}
	if err := s.capture.Close(); err != nil && !errors.Is(err, context.Canceled) {
		return fmt.Errorf("capture: %w", err)
	}
	return nil
}

// hostClock is the process's monotonic clock.
type hostClock struct{}

var processStart = time.Now()

func (hostClock) Now() time.Duration { return time.Since(processStart) }
