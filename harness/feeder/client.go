package feeder

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"sync"
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

func (o Options) withDefaults() Options {
	if o.Timeout <= 0 {
		o.Timeout = 500 * time.Millisecond
	}
	if o.Retries == 0 {
		o.Retries = 5
	}
	o.Retries = max(o.Retries, 0)
	if o.Silence <= 0 {
		o.Silence = 3 * time.Second
	}
	return o
}

// Client talks to one board over an open line. Its methods are to be called
// from one goroutine at a time; Close may be called from any.
type Client struct {
	rw    io.ReadWriteCloser
	clock Clock
	opts  Options

	in      *queue
	out     chan []byte
	wrote   chan error
	writing bool
	quit    chan struct{}
	once    sync.Once
	closing error
	workers sync.WaitGroup

	seq      uint8
	token    uint32
	id       Identity // Protocol is 0 before Hello
	micros   unwrapper
	run      *run  // the run whose events are wanted, or nil
	oddity   error // the last well-framed message that made no sense
	lastSeen time.Time
}

// NewClient takes over an open line; a nil clock means NewHostClock. Nothing
// is sent before Hello. Two goroutines serve the line until Close, or until
// it fails. A Close of rw must make its pending Read return.
func NewClient(rw io.ReadWriteCloser, clock Clock, opts Options) *Client {
	if clock == nil {
		clock = NewHostClock()
	}
	c := &Client{
		rw: rw, clock: clock, opts: opts.withDefaults(), in: newQueue(),
		out: make(chan []byte, 1), wrote: make(chan error, 1), quit: make(chan struct{}),
	}
	c.workers.Add(2)
	go c.reader()
	go c.writer()
	return c
}

// Close closes the line and returns when nothing of the client runs any more.
// A method still at work in another goroutine comes back with ErrGone.
func (c *Client) Close() error {
	c.once.Do(func() {
		c.in.end(errClosed)
		close(c.quit)
		c.closing = c.rw.Close()
		c.workers.Wait()
	})
	return c.closing
}

var errClosed = errors.New("the client was closed")

func (c *Client) reader() {
	defer c.workers.Done()
	var d Decoder
	buf := make([]byte, 4096)
	empty := 0
	for {
		n, err := c.rw.Read(buf)
		if n > 0 {
			empty = 0
			now := c.clock.Now()
			d.Feed(buf[:n], func(p Packet) {
				p.Payload = append([]byte(nil), p.Payload...)
				c.in.put(arrival{p, now})
			})
		} else if empty++; err == nil && empty > 100 {
			err = io.ErrNoProgress
		}
		if err != nil {
			c.in.end(err)
			return
		}
	}
}

func (c *Client) writer() {
	defer c.workers.Done()
	for {
		select {
		case p := <-c.out:
			c.wrote <- writeAll(c.rw, p)
		case <-c.quit:
			return
		}
	}
}

// writeAll writes all of p. A line that hangs up can take a part, or nothing,
// and report no error: what counts is what was written.
func writeAll(w io.Writer, p []byte) error {
	for len(p) > 0 {
		n, err := w.Write(p)
		if err != nil {
			return err
		}
		if n <= 0 {
			return io.ErrShortWrite
		}
		p = p[n:]
	}
	return nil
}

// gone makes the error for a line that ended because of err.
func gone(err error) error {
	if errors.Is(err, errClosed) {
		return &linkError{kind: ErrGone, cause: err, text: "the port was closed on this side"}
	}
	return &linkError{kind: ErrGone, cause: err,
		text: fmt.Sprintf("the port is gone (%v); check the cable and the board's power, then start again", err)}
}

func (c *Client) silent(what string) error {
	text := fmt.Sprintf("the board is silent: %s; check that this is the feeder's port and that the board has power, or unplug it and plug it in again", what)
	if c.oddity != nil {
		text += fmt.Sprintf(" (something came that makes no sense: %v)", c.oddity)
	}
	return &linkError{kind: ErrSilent, text: text}
}

// errLate: nothing came before the deadline.
var errLate = errors.New("late")

// await takes the next arrival: a cancelled ctx, a line that is gone and a
// passed deadline (errLate) are errors.
func (c *Client) await(ctx context.Context, deadline time.Time) (arrival, error) {
	var timer *time.Timer
	for {
		if err := ctx.Err(); err != nil {
			return arrival{}, err
		}
		a, ok, err := c.in.pop()
		if ok {
			c.lastSeen = time.Now()
			return a, nil
		}
		if err != nil {
			return arrival{}, gone(err)
		}
		if timer == nil {
			timer = time.NewTimer(time.Until(deadline))
			defer timer.Stop()
		}
		select {
		case <-c.in.ready:
		case <-ctx.Done():
		case <-timer.C:
			return arrival{}, errLate
		}
	}
}

// send hands p to the writer and waits until it is written, at most until the
// deadline (errLate; the writing goes on).
func (c *Client) send(ctx context.Context, p []byte, deadline time.Time) error {
	timer := time.NewTimer(time.Until(deadline))
	defer timer.Stop()
	for sent := false; ; {
		if !c.writing {
			if sent {
				return nil
			}
			c.out <- p // has room: nothing is being written
			c.writing, sent = true, true
		}
		select {
		case err := <-c.wrote:
			c.writing = false
			if err != nil {
				return gone(err)
			}
		case <-ctx.Done():
			return ctx.Err()
		case <-c.quit:
			return gone(errClosed)
		case <-timer.C:
			return errLate
		}
	}
}

// exchange sends a command under the next sequence number, again and again,
// until its answer comes. Other messages go to the run that is on.
func (c *Client) exchange(ctx context.Context, m Message, want Type) (Message, time.Duration, error) {
	return c.exchangeTries(ctx, m, want, c.opts.Retries)
}

func (c *Client) exchangeTries(ctx context.Context, m Message, want Type, retries int) (Message, time.Duration, error) {
	c.seq++
	frame := AppendFrame([]byte{0}, c.seq, m) // the zero ends whatever half frame there is
	for range retries + 1 {
		deadline := time.Now().Add(c.opts.Timeout)
		if err := c.send(ctx, frame, deadline); err != nil && err != errLate {
			return nil, 0, err
		}
		for {
			a, err := c.await(ctx, deadline)
			if err == errLate {
				break
			}
			if err != nil {
				return nil, 0, err
			}
			msg, err := a.Message()
			if err != nil {
				c.oddity = err
				continue
			}
			if a.Seq != c.seq || a.Type != want && a.Type != TypeAck {
				c.event(msg)
				continue
			}
			if ack, ok := msg.(*Ack); ok {
				c.credit(ack.Credit)
				if ack.Status != StatusOK {
					return ack, a.at, &linkError{kind: ErrRefused,
						text: fmt.Sprintf("the board refused %v: %v", m.Type(), ack.Status)}
				}
				if want != TypeAck {
					continue
				}
			}
			return msg, a.at, nil
		}
	}
	return nil, 0, c.silent(fmt.Sprintf("no answer to %v in %v", m.Type(), time.Duration(retries+1)*c.opts.Timeout))
}

// event gives an unasked message to the run that is on.
func (c *Client) event(m Message) {
	if c.run != nil {
		c.run.event(m)
	}
}

func (c *Client) credit(n uint32) {
	if c.run != nil {
		c.run.credit = max(c.run.credit, int64(n))
	}
}

// Hello opens a session: the board forgets what it had, ends a run that may be
// on, and says what it is. Errors match ErrProtocol, ErrSilent, ErrGone, or
// ctx's error.
func (c *Client) Hello(ctx context.Context) (Identity, error) {
	c.id, c.micros, c.oddity = Identity{}, unwrapper{}, nil
	m, _, err := c.exchange(ctx, &Hello{Proto: Version, Session: rand.Uint32()}, TypeIdentity)
	if err != nil {
		return Identity{}, c.stopped("greeting the board", err)
	}
	id := m.(*IdentityMsg)
	if id.Proto != Version {
		return Identity{Protocol: int(id.Proto)}, &linkError{kind: ErrProtocol,
			text: fmt.Sprintf("the board speaks protocol version %d and this program version %d; update the board's firmware or this program", id.Proto, Version)}
	}
	c.id = Identity{
		Protocol: int(id.Proto), Serial: id.Serial, Board: id.Board, Firmware: id.Firmware,
		Capacity: int(id.Capacity), Ports: int(id.Ports),
	}
	return c.id, nil
}

// stopped words a cancelled context.
func (c *Client) stopped(doing string, err error) error {
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return fmt.Errorf("feeder: stopped while %s: %w", doing, err)
	}
	return err
}

// Sync makes n time exchanges, one after another. It is for the times before
// and after a run. The board's clock is unwrapped from 32 bits by the host's
// clock, so pauses between calls may be of any length; the unwrapped clock
// starts afresh at Hello. Errors match ErrSilent, ErrGone, ErrRefused, or
// ctx's error; the exchanges made until then are returned.
func (c *Client) Sync(ctx context.Context, n int) ([]Sync, error) {
	if c.id.Protocol == 0 {
		return nil, errNoHello
	}
	var all []Sync
	for range n {
		c.token++
		sent := c.clock.Now()
		m, at, err := c.exchange(ctx, &SyncAsk{Token: c.token}, TypeSynced)
		if err != nil {
			return all, c.stopped("setting the clocks", err)
		}
		s := m.(*Synced)
		if s.Token != c.token {
			return all, &linkError{kind: ErrRefused, text: "the board answered SYNC with another token; its firmware does not keep to the protocol"}
		}
		all = append(all, Sync{Sent: sent, Received: at, Micros: c.micros.synced(s.Micros, sent)})
	}
	return all, nil
}

var errNoHello = &linkError{kind: ErrRefused, text: "the board was not greeted; call Hello first"}
