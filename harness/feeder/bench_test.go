package feeder_test

import (
	"context"
	"slices"
	"sync"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/fixtures/board"
	"latchproof/harness/feeder"
	"latchproof/specs/program"
)

// console is a scripted console: it reads once a period, each read being so
// many latch pulses, and never does anything else.
type console struct {
	period time.Duration
	pulses int   // latch pulses in a read
	reads  int64 // then it never reads again; 0 means for ever
	kind   feeder.StartKind
	start  time.Duration
	n      int64
	served []program.State // per latch pulse
	onNext func(n int64)
	mu     sync.Mutex // the board and the test look at it in turn
}

const (
	period = 16_639_267 * time.Nanosecond // 655171/39375000 s, one NTSC-family frame
	apart  = 200 * time.Microsecond       // between the pulses of one read
	gap    = time.Millisecond             // burst gap
)

func newConsole() *console { return &console{period: period, pulses: 1} }

func (c *console) Start(kind feeder.StartKind, at time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.kind, c.start, c.n, c.served = kind, at, 0, nil
}

func (c *console) Next() (board.Pulse, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.onNext != nil {
		c.onNext(c.n)
	}
	read := c.n / int64(c.pulses)
	if c.reads > 0 && read >= c.reads {
		return board.Pulse{}, false
	}
	at := c.start + time.Duration(read+1)*c.period + time.Duration(c.n%int64(c.pulses))*apart
	c.n++
	return board.Pulse{At: at, Clocks: 8, Clocks2: 8}, true
}

func (c *console) Serve(_ board.Pulse, s program.State) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.served = append(c.served, s)
}

// found is what the console found at every latch pulse.
func (c *console) found() []program.State {
	c.mu.Lock()
	defer c.mu.Unlock()
	return slices.Clone(c.served)
}

// began is how and when the console was last started.
func (c *console) began() (feeder.StartKind, time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.kind, c.start
}

// quick are time-outs for tests: long enough for a busy machine where nothing
// is to time out, retried often where something is.
var quick = feeder.Options{Timeout: 100 * time.Millisecond, Retries: 30, Silence: 5 * time.Second}

// plugged powers a board and greets it over the real pseudo-terminal.
func plugged(o board.Options, c feeder.Options) (*board.Board, *feeder.Client) {
	GinkgoHelper()
	b, cl := wired(o, c)
	_, err := cl.Hello(context.Background())
	Expect(err).NotTo(HaveOccurred())
	return b, cl
}

// wired is plugged without the greeting.
func wired(o board.Options, c feeder.Options) (*board.Board, *feeder.Client) {
	GinkgoHelper()
	b, err := board.New(o)
	Expect(err).NotTo(HaveOccurred())
	DeferCleanup(b.Close)
	l, err := feeder.Dial(b.Path())
	Expect(err).NotTo(HaveOccurred())
	cl := feeder.NewClient(l, b.Clock(), c)
	DeferCleanup(func() { _ = cl.Close() })
	return b, cl
}

// request plays runs as on an NTSC-family console.
func request(runs ...program.Run) feeder.PlayRequest {
	q := feeder.PlayRequest{Runs: runs, BurstGap: gap, LatchActive: "high", Start: feeder.StartReset, Limit: time.Second}
	for _, r := range runs {
		q.Reads += r.Count
	}
	return q
}

// each makes n runs of one read, every one different from its neighbours.
func each(n int) []program.Run {
	runs := make([]program.Run, n)
	for i := range runs {
		runs[i] = program.Run{State: program.State{P1: uint16(i % 251), P2: uint16(i % 17)}, Count: 1}
	}
	return runs
}

// expand is the state of every read.
func expand(runs []program.Run, tail int) []program.State {
	var all []program.State
	for _, r := range runs {
		all = append(all, slices.Repeat([]program.State{r.State}, int(r.Count))...)
	}
	return append(all, make([]program.State, tail)...)
}

// collector gathers the log.
type collector struct{ log []feeder.Latch }

func (c *collector) add(l feeder.Latch) { c.log = append(c.log, l) }

func (c *collector) states() []program.State {
	var all []program.State
	for _, l := range c.log {
		all = append(all, program.State{P1: l.P1, P2: l.P2})
	}
	return all
}
