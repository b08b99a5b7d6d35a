package feeder

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"latchproof/specs/program"
)

// PlayRequest is one run to be played.
type PlayRequest struct {
	// Runs is the program as a run-length timeline. Runs longer than 65535
	// reads are split on the wire.
	Runs []program.Run
	// Reads is the length of the program in reads, the sum of the counts.
	Reads int64
	// Tail is how many reads more are logged, with released buttons served.
	Tail int64
	// BurstGap: latch pulses closer together than this are one read. Whole
	// microseconds.
	BurstGap time.Duration
	// LatchActive is "high" or "low".
	LatchActive string
	// Start is how the console is started.
	Start StartKind
	// Hold is how long reset is held or power is cut; 0 means 100 ms for a
	// reset and 2 s for power. Whole milliseconds, at most 65.535 s.
	Hold time.Duration
	// Limit ends the run when the console makes no read for so long; 0 means
	// 10 s. Whole milliseconds, at most 30 minutes.
	Limit time.Duration
}

// DoneReason is why a run ended.
type DoneReason uint8

// Why a run ended. DoneNone means that the board never said so.
const (
	DoneNone     DoneReason = iota // the board never reported the end
	DoneComplete                   // all reads of program and tail were made
	DoneIdle                       // the console made no read for the limit
	DoneAborted                    // the host asked for the end
	DoneFault                      // the board gave up
)

// LostRange is a stretch of log records that never arrived, both ends
// included.
type LostRange struct{ From, To int64 }

// Outcome is what became of a run. After an error it holds what is known up
// to then.
type Outcome struct {
	// Reads and Latches are the board's own counts when it reported the end,
	// otherwise Reads is 0 and Latches counts the records that arrived.
	Reads, Latches int64
	// Reason is why the run ended; DoneNone when the board never said so.
	Reason DoneReason
	// Damaged means that evidence is missing: see Lost and Problems.
	Damaged bool
	// Lost lists the log records that never arrived.
	Lost []LostRange
	// Underruns are the indexes of the latch pulses at which the board had no
	// program data and served released buttons instead.
	Underruns []int64
	// Service is how fast the board was at each latch pulse, as far as it told and
	// the telling arrived, and ServiceLost the stretches that did not arrive. A
	// board need not tell: then both are empty. What is lost of it damages nothing.
	Service     []Service
	ServiceLost []LostRange
	// Problems says in plain words everything that went wrong.
	Problems []string
}

// Defaults and limits of a PlayRequest.
const (
	DefaultResetHold = 100 * time.Millisecond
	DefaultPowerHold = 2 * time.Second
	DefaultLimit     = 10 * time.Second
	MaxLimit         = 30 * time.Minute // the unwrapping of the board's clock needs it
)

// Play plays one run: it announces the program, loads it as far as the board's
// credit goes, starts the console, loads the rest while the run goes on, and
// hands every log record to onLatch (which may be nil) in order, from the
// calling goroutine. Programs of any length play on a board of any size.
//
// The outcome holds what is known even when there is an error. Errors match
// ErrRefused (the request or a command), ErrSilent, ErrGone, ErrFault,
// ErrDamaged (the run came to its end but records or reports were lost on the
// way), or ctx's error: then the board was told to abort, the console is left
// running with released buttons, and what the board had logged until then was
// handed on. An underrun is no error: it is in the outcome and its Problems.
func (c *Client) Play(ctx context.Context, req PlayRequest, onLatch func(Latch)) (Outcome, error) {
	if c.id.Protocol == 0 {
		return Outcome{}, errNoHello
	}
	arm, runs, err := req.wire(c.id)
	if err != nil {
		return Outcome{}, err
	}
	r := &run{clock: &c.micros, onLatch: onLatch}
	c.run = r
	defer func() { c.run = nil }()
	err = c.play(ctx, r, arm, runs, req)
	switch {
	case err == nil:
		err = r.verdict()
	case ctx.Err() != nil:
		r.problem("stopped before the end: %v", ctx.Err())
		c.abort(r, c.opts.Retries)
		err = fmt.Errorf("feeder: the run was stopped after %d latch pulses: %w", r.next, ctx.Err())
	default:
		r.problem("%s", strings.TrimPrefix(err.Error(), "feeder: "))
		retries := c.opts.Retries
		if errors.Is(err, ErrSilent) {
			retries = 0 // it was waited for long enough
		}
		c.abort(r, retries)
	}
	return r.out(), err
}

// play carries out a run up to DONE.
func (c *Client) play(ctx context.Context, r *run, arm *Arm, runs []WireRun, req PlayRequest) error {
	if _, _, err := c.exchange(ctx, arm, TypeAck); err != nil {
		return err
	}
	loaded := 0
	for loaded < len(runs) && int64(loaded) < r.credit {
		if err := c.load(ctx, r, runs, &loaded); err != nil {
			return err
		}
	}
	if loaded == 0 && len(runs) > 0 {
		return &linkError{kind: ErrRefused, text: "the board gives no credit for its empty buffer; its firmware does not keep to the protocol"}
	}
	r.open = true
	hold := req.hold()
	if _, _, err := c.exchange(ctx, &Start{Kind: req.Start, HoldMillis: uint16(hold / time.Millisecond)}, TypeAck); err != nil {
		return err
	}
	// The console is held in reset, or without power, for a while.
	for r.done == nil {
		if loaded < len(runs) && int64(loaded) < r.credit && !r.ended {
			if err := c.load(ctx, r, runs, &loaded); err != nil {
				return err
			}
			continue
		}
		a, err := c.await(ctx, c.lastSeen.Add(c.opts.Silence))
		if err == errLate {
			return c.silent(fmt.Sprintf("nothing came for %v during the run, after %d latch pulses", c.opts.Silence, r.next))
		}
		if err != nil {
			return err
		}
		if msg, err := a.Message(); err != nil {
			c.oddity = err
		} else {
			r.event(msg)
		}
	}
	return nil
}

// load sends the next chunk that the credit allows.
func (c *Client) load(ctx context.Context, r *run, runs []WireRun, loaded *int) error {
	n := min(len(runs)-*loaded, MaxLoadRuns, int(r.credit)-*loaded)
	m, _, err := c.exchange(ctx, &Load{Offset: uint32(*loaded), Runs: runs[*loaded : *loaded+n]}, TypeAck)
	if ack, ok := m.(*Ack); ok && err != nil && ack.State == StateDone {
		r.ended = true // the run was over before the chunk came; DONE is on its way
		return nil
	}
	if err != nil {
		return err
	}
	*loaded += n
	return nil
}

// abort tells the board to end the run and takes in what it still has to say.
// It does its best: the reason for aborting is what the caller reports.
func (c *Client) abort(r *run, retries int) {
	ctx := context.Background() // the caller's may be cancelled; every wait here has a limit of its own
	m, _, err := c.exchangeTries(ctx, &Abort{}, TypeAck, retries)
	if ack, ok := m.(*Ack); err != nil || !ok || ack.State != StateDone || !r.open {
		return
	}
	deadline := time.Now().Add(c.opts.Silence)
	for r.done == nil {
		a, err := c.await(ctx, deadline)
		if err != nil {
			return
		}
		if msg, err := a.Message(); err == nil {
			r.event(msg)
		}
	}
}

func (q PlayRequest) hold() time.Duration {
	switch {
	case q.Hold != 0:
		return q.Hold
	case q.Start == StartPower:
		return DefaultPowerHold
	}
	return DefaultResetHold
}

// wire checks the request and brings it to the form that goes over the wire.
func (q PlayRequest) wire(id Identity) (*Arm, []WireRun, error) {
	refuse := func(format string, args ...any) (*Arm, []WireRun, error) {
		return nil, nil, &linkError{kind: ErrRefused, text: fmt.Sprintf(format, args...)}
	}
	limit := q.Limit
	if limit == 0 {
		limit = DefaultLimit
	}
	hold := q.hold()
	switch {
	case q.Reads < 0 || q.Tail < 0 || q.Reads+q.Tail < 1 || q.Reads+q.Tail > math.MaxUint32:
		return refuse("%d reads and %d reads of tail cannot be played; 1 to 4294967295 together can", q.Reads, q.Tail)
	case q.BurstGap < 0 || q.BurstGap > time.Second || q.BurstGap%time.Microsecond != 0:
		return refuse("burst gap %v is not a whole number of microseconds from 0 to 1 s", q.BurstGap)
	case q.LatchActive != "high" && q.LatchActive != "low":
		return refuse("latch polarity %q is neither high nor low", q.LatchActive)
	case q.Start > StartPower:
		return refuse("unknown kind of start %d", q.Start)
	case limit < time.Millisecond || limit > MaxLimit || limit%time.Millisecond != 0:
		return refuse("limit %v is not a whole number of milliseconds from 1 ms to %v", limit, MaxLimit)
	case hold < time.Millisecond || hold > math.MaxUint16*time.Millisecond || hold%time.Millisecond != 0:
		return refuse("hold %v is not a whole number of milliseconds from 1 ms to 65.535 s", hold)
	}
	var runs []WireRun
	var sum int64
	for i, r := range q.Runs {
		if r.Count < 1 {
			return refuse("run %d has a count of %d; at least 1 is needed", i, r.Count)
		}
		if r.State.P2 != 0 && id.Ports < 2 {
			return refuse("the program presses buttons on port 2 and the board has only one port")
		}
		if sum += r.Count; sum > q.Reads {
			break
		}
		for n := r.Count; n > 0; n -= MaxRunCount {
			runs = append(runs, WireRun{uint16(min(n, MaxRunCount)), r.State.P1, r.State.P2})
		}
	}
	if sum != q.Reads {
		return refuse("the runs do not add up to the program's %d reads", q.Reads)
	}
	return &Arm{
		Runs: uint32(len(runs)), Reads: uint32(q.Reads), Tail: uint32(q.Tail),
		BurstMicros: uint32(q.BurstGap / time.Microsecond), LimitMillis: uint32(limit / time.Millisecond),
		LatchHigh: q.LatchActive == "high",
	}, runs, nil
}
