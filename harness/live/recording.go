package live

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"
)

// Sizes of the queues. A second of pictures may wait for the disk; the live
// judging takes what is newest.
const (
	RecordQueue = 64
	ViewQueue   = 8
)

// Options make a Capture.
type Options struct {
	// Open opens the card. Required.
	Open func(ctx context.Context) (Source, error)
	// Now is the host's clock, the one that stamps are on. Required.
	Now func() time.Duration
	// Latency of the card: recording goes on for so long, and TailPictures more,
	// after Stop.
	Latency time.Duration
	// Rate of the pictures, hertz, when the source does not say.
	Rate float64
	// Patience is how long the first picture may take. Default 10 s.
	Patience time.Duration
	// RecordQueue and ViewQueue are how many pictures may wait. Defaults above.
	RecordQueue, ViewQueue int
	// Create makes the file. Default Create of this package.
	Create func(path string, info Info) (File, error)
}

// TailPictures are recorded after Stop, beyond the latency.
const TailPictures = 10

// File is what pictures are recorded to.
type File interface {
	// Write appends a picture at a time from the first.
	Write(b Buffer, at time.Duration) error
	Close() error
}

// Capture records what a card delivers into a file and shows it, picture by
// picture, to a viewer. It implements harness.Capture. Use it once.
type Capture struct {
	o      Options
	view   func(Buffer)
	source Source
	info   Info
	file   File

	toFile, toView queue
	cancel         context.CancelFunc
	readDone       chan struct{}
	work           sync.WaitGroup
	broken         chan struct{}
	once           sync.Once

	mu     sync.Mutex
	report Account
	count  counter
	gap    Gap // since the last picture that was taken
	places []place
	first  time.Duration // stamp of the first picture
	latest time.Duration
	ended  error // why the source ended by itself
	failed error // of the file
}

// New makes a Capture; nothing is opened yet.
func New(o Options) *Capture {
	if o.Patience <= 0 {
		o.Patience = 10 * time.Second
	}
	if o.RecordQueue <= 0 {
		o.RecordQueue = RecordQueue
	}
	if o.ViewQueue <= 0 {
		o.ViewQueue = ViewQueue
	}
	if o.Create == nil {
		o.Create = Create
	}
	return &Capture{o: o, broken: make(chan struct{})}
}

// View sets who is shown the pictures, before Start. It is called from one
// goroutine; the buffer is its own until it returns. A picture that comes while
// the queue to it is full is not shown.
func (c *Capture) View(view func(Buffer)) { c.view = view }

// Start opens the card, waits for the first picture and begins recording to
// path. Errors: those of the source, ErrNoSignal when no picture came in time,
// those of the file.
func (c *Capture) Start(ctx context.Context, path string) (err error) {
	if c.source != nil {
		return errors.New("the card is recording already")
	}
	source, err := c.o.Open(ctx)
	if err != nil {
		return err
	}
	c.source = source
	defer func() {
		if err != nil {
			err = errors.Join(err, c.Close())
		}
	}()
	c.info = source.Info()
	c.report = Account{Source: c.info.Name, Format: c.info.Format, Notes: c.info.Notes}
	rate := c.info.Rate
	if rate <= 0 {
		rate = c.o.Rate
	}
	if rate > 0 {
		c.count.period = time.Duration(1e9 / rate)
	}
	b, err := c.await(ctx)
	if err != nil {
		return err
	}
	if c.file, err = c.o.Create(path, c.info); err != nil {
		b.Release()
		return err
	}
	c.first = b.Stamp
	c.toFile, c.toView = make(queue, c.o.RecordQueue), make(queue, c.o.ViewQueue)
	c.readDone = make(chan struct{})
	reading, cancel := context.WithCancel(context.WithoutCancel(ctx))
	c.cancel = cancel
	c.work.Go(c.write)
	c.work.Go(c.show)
	go func() {
		defer close(c.readDone)
		c.take(b)
		c.read(reading)
	}()
	return nil
}

// await is the first picture.
func (c *Capture) await(ctx context.Context) (Buffer, error) {
	late := fmt.Errorf("%w: %s gave no picture in %v", ErrNoSignal, c.info.Name, c.o.Patience)
	ctx, cancel := context.WithTimeoutCause(ctx, c.o.Patience, late)
	defer cancel()
	for {
		b, err := c.source.Next(ctx)
		switch {
		case err == nil && len(b.Data) > 0:
			return b, nil
		case err == nil:
			b.Release()
		case ctx.Err() != nil:
			return Buffer{}, context.Cause(ctx)
		case !errors.Is(err, ErrNoSignal) && !errors.Is(err, ErrFault):
			return Buffer{}, err
		}
	}
}

// maxFaults in a row end a recording.
const maxFaults = 30

func (c *Capture) read(ctx context.Context) {
	faults := 0
	for ctx.Err() == nil {
		b, err := c.source.Next(ctx)
		switch {
		case err == nil:
			faults = 0
			c.take(b)
			continue
		case ctx.Err() != nil:
			return
		case errors.Is(err, ErrNoSignal):
			c.mu.Lock()
			c.report.Signal++
			c.mu.Unlock()
			continue
		case errors.Is(err, ErrFault):
			c.mu.Lock()
			c.report.Faults++
			c.mu.Unlock()
			if faults++; faults < maxFaults {
				continue
			}
			err = fmt.Errorf("%w after %d errors in a row: %w", ErrGone, faults, err)
		}
		c.mu.Lock()
		c.ended = err
		c.mu.Unlock()
		c.fail()
		return
	}
}

// fail tells that the recording is over before its time.
func (c *Capture) fail() { c.once.Do(func() { close(c.broken) }) }

// Broken is closed when the recording cannot go on: Stop says why.
func (c *Capture) Broken() <-chan struct{} { return c.broken }

// take accounts for a picture and hands it on. The recorder comes first.
func (c *Capture) take(b Buffer) {
	defer b.Release()
	b.Size = c.info.Size
	c.mu.Lock()
	lost := c.count.lost(b)
	c.latest = b.Stamp
	c.gap.Card += lost
	c.report.Card += lost
	if len(b.Data) == 0 {
		c.report.Empty++
		c.report.Card++
		c.gap.Card++
		c.mu.Unlock()
		return
	}
	c.mu.Unlock()
	if !c.toFile.offer(b.hold()) {
		b.Release()
		c.mu.Lock()
		c.gap.Ours++
		c.report.Ours++
		c.mu.Unlock()
		return
	}
	c.mu.Lock()
	if c.gap.Card+c.gap.Ours > 0 {
		c.gap.After = int64(len(c.places)) - 1
		c.report.Gaps = append(c.report.Gaps, c.gap)
		c.gap = Gap{}
	}
	if b.Flags&Damaged != 0 {
		c.report.Damaged++
		c.report.DamagedAt = append(c.report.DamagedAt, int64(len(c.places)))
	}
	c.places = append(c.places, place{b.Stamp, b.Media, b.Flags&HasMedia != 0})
	c.mu.Unlock()
	if c.view == nil {
		return
	}
	if !c.toView.offer(b.hold()) {
		b.Release()
		c.mu.Lock()
		c.report.Skipped++
		c.mu.Unlock()
	}
}

// write is the recorder. After an error it only gives the memory back.
func (c *Capture) write() {
	var failed error
	for b := range c.toFile {
		if failed == nil {
			if failed = c.file.Write(b, b.Stamp-c.first); failed != nil {
				c.mu.Lock()
				c.failed = failed
				c.mu.Unlock()
				c.fail()
			} else {
				c.mu.Lock()
				c.report.Pictures++
				c.mu.Unlock()
			}
		}
		b.Release()
	}
}

func (c *Capture) show() {
	for b := range c.toView {
		c.view(b)
		b.Release()
	}
}

// Stop ends the recording: after the pictures that are still on their way
// through the card, or at once when ctx is cancelled. It gives the instant of
// every picture in the file. Errors: why the source ended before its time
// (ErrGone), and those of the file; the instants are given all the same.
func (c *Capture) Stop(ctx context.Context) ([]time.Duration, error) {
	if c.source == nil || c.cancel == nil {
		return nil, errors.New("the card is not recording")
	}
	c.linger(ctx)
	c.finish()
	c.mu.Lock()
	defer c.mu.Unlock()
	err := c.failed
	if e := c.file.Close(); err == nil {
		err = e
	}
	if c.ended != nil {
		err = errors.Join(fmt.Errorf("%w, after picture %d", c.ended, len(c.places)), err)
	}
	c.cancel = nil
	all := instants(c.places)
	return all[:min(len(all), int(c.report.Pictures))], err
}

// linger waits for the pictures that the run still needs.
func (c *Capture) linger(ctx context.Context) {
	period := c.count.period
	if period <= 0 {
		period = 40 * time.Millisecond
	}
	until := c.o.Now() + c.o.Latency + TailPictures*period
	limit := time.NewTimer(c.o.Latency + TailPictures*period + time.Second)
	defer limit.Stop()
	step := time.NewTicker(period)
	defer step.Stop()
	for {
		c.mu.Lock()
		there := c.latest >= until
		c.mu.Unlock()
		if there {
			return
		}
		select {
		case <-step.C:
		case <-limit.C:
			return
		case <-c.broken:
			return
		case <-ctx.Done():
			return
		}
	}
}

// finish ends all goroutines.
func (c *Capture) finish() {
	if c.cancel == nil {
		return
	}
	c.cancel()
	<-c.readDone
	close(c.toFile)
	close(c.toView)
	c.work.Wait()
}

// Report is the account of the recording, whole after Stop.
func (c *Capture) Report() Account {
	c.mu.Lock()
	defer c.mu.Unlock()
	r := c.report
	r.Gaps = append([]Gap(nil), r.Gaps...)
	r.DamagedAt = append([]int64(nil), r.DamagedAt...)
	if c.gap.Card+c.gap.Ours > 0 { // after the last picture
		g := c.gap
		g.After = int64(len(c.places)) - 1
		r.Gaps = append(r.Gaps, g)
	}
	return r
}

// Close frees the card. A recording under way ends there.
func (c *Capture) Close() error {
	if c.source == nil {
		return nil
	}
	var err error
	if c.cancel != nil {
		c.finish()
		c.cancel = nil
		err = c.file.Close()
	}
	err = errors.Join(err, c.source.Close())
	c.source = nil
	return err
}
