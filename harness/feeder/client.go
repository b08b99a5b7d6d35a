package feeder

import (
	"context"
	"errors"
	"io"
	"time"
)

// Options are the client's time-outs. Zero fields take the defaults.
type Options struct {
	// Timeout is how long one sending of a command waits for its answer.
	// Default 500 ms.
	Timeout time.Duration
	// Retries is how often a command is sent again. Default 5; negative means
	// never.
	Retries int
	// Silence is how long a board may say nothing at all during a run.
	// Default 3 s.
	Silence time.Duration
}

// Client talks to one board over an open line. Its methods are to be called
// from one goroutine at a time; Close may be called from any.
type Client struct{ rw io.ReadWriteCloser }

// NewClient takes over an open line.
func NewClient(rw io.ReadWriteCloser, clock Clock, opts Options) *Client { return &Client{rw: rw} }

// Dial opens a serial port by its path.
func Dial(port string) (io.ReadWriteCloser, error) { return nil, errors.New("being built") }

// Hello greets the board and learns what it is.
func (c *Client) Hello(ctx context.Context) (Identity, error) {
	return Identity{}, errors.New("being built")
}

// Sync makes n time exchanges.
func (c *Client) Sync(ctx context.Context, n int) ([]Sync, error) {
	return nil, errors.New("being built")
}

// Play plays one run and hands every log record to onLatch in order.
func (c *Client) Play(ctx context.Context, req PlayRequest, onLatch func(Latch)) (Outcome, error) {
	return Outcome{}, errors.New("being built")
}

// Close closes the line.
func (c *Client) Close() error { return c.rw.Close() }
