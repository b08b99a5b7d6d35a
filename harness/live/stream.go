package live

import (
	"bufio"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"io"
	"os"
	"time"
)

// StreamOptions make a Stream.
type StreamOptions struct {
	Path string // a FIFO, or a file that somebody writes
	// Format is what comes: MJPEG in Matroska, or YUYV or NV12, in Matroska or
	// bare.
	Format Format
	Size   image.Point // needed for bare pictures; otherwise a check
	Rate   float64     // hertz; 0: what the stream says
	Now    func() time.Duration
	// Silence is how long a stream may give nothing before that is ErrNoSignal.
	// Default 1 s.
	Silence time.Duration
}

// Stream is a card that another program serves: a FIFO or a growing file that it
// writes to while the pictures come. It implements Source.
type Stream struct {
	o     StreamOptions
	info  Info
	file  *os.File
	quit  chan struct{}
	done  chan struct{}
	ready chan Buffer
	err   error // once ready is closed
	pool  Pool
}

// OpenStream opens a stream and reads its head. It waits, as long as ctx lets
// it, for a program that writes into the FIFO. Errors wrap ErrNoCard.
func OpenStream(ctx context.Context, o StreamOptions) (*Stream, error) {
	if o.Silence <= 0 {
		o.Silence = time.Second
	}
	fail := func(err error) (*Stream, error) {
		return nil, fmt.Errorf("%w: stream %s: %w", ErrNoCard, o.Path, plain(err))
	}
	st, err := os.Stat(o.Path)
	if err != nil {
		return fail(err)
	}
	fifo := st.Mode()&os.ModeNamedPipe != 0
	if !fifo && !st.Mode().IsRegular() {
		return fail(errors.New("it is neither a FIFO nor a file"))
	}
	f, err := openReading(o.Path)
	if err != nil {
		return fail(err)
	}
	s := &Stream{o: o, file: f, quit: make(chan struct{}), done: make(chan struct{}), ready: make(chan Buffer, 2)}
	head := make(chan error, 1)
	go s.run(&tap{f: f, quit: s.quit, fifo: fifo}, head)
	select {
	case err = <-head:
	case <-ctx.Done():
		err = context.Cause(ctx)
		if errors.Is(err, context.DeadlineExceeded) {
			err = errors.New("nobody writes to it")
		}
	}
	if err != nil {
		s.Close()
		return fail(err)
	}
	return s, nil
}

// plain drops operation and path from an error of package os.
func plain(err error) error {
	var pe *os.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	return err
}

// run reads until the end. It tells head when the head was read, or why not.
func (s *Stream) run(from *tap, head chan<- error) {
	defer close(s.done)
	defer close(s.ready)
	r := bufio.NewReaderSize(from, 1<<16)
	next, err := s.open(r)
	head <- err
	for err == nil {
		var b Buffer
		if b, err = next(); err != nil {
			break
		}
		b.Stamp, b.Format = s.o.Now(), s.info.Format
		select {
		case s.ready <- b:
		case <-s.quit:
			b.Release()
			err = os.ErrClosed
		}
	}
	s.err = err
}

// open tells what kind of stream it is and gives what reads a picture of it.
func (s *Stream) open(r *bufio.Reader) (func() (Buffer, error), error) {
	magic, err := r.Peek(4)
	if err != nil {
		return nil, noPicture(err)
	}
	s.info = Info{Name: "stream " + s.o.Path, Format: s.o.Format, Size: s.o.Size, Rate: s.o.Rate}
	if binary.BigEndian.Uint32(magic) != idEBML {
		return s.bare(r)
	}
	m := &matroska{r: r, pool: &s.pool}
	if err := m.open(); err != nil {
		return nil, noPicture(err)
	}
	if err := m.agree(&s.info); err != nil {
		return nil, err
	}
	return m.next, nil
}

func noPicture(err error) error {
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return errors.New("it ended before its first picture")
	}
	return err
}

// bare reads pictures that follow one another with nothing in between.
func (s *Stream) bare(r *bufio.Reader) (func() (Buffer, error), error) {
	n := s.o.Format.Bytes(s.o.Size)
	switch {
	case s.o.Format == MJPEG:
		return nil, errors.New("it is not Matroska, the container that mjpeg needs (ffmpeg: -f matroska)")
	case n <= 0:
		return nil, fmt.Errorf("bare pictures in %s need a size, both sides even", string(s.o.Format))
	}
	s.info.Notes = append(s.info.Notes, "the stream has no times: pictures are stamped when they arrive")
	return func() (Buffer, error) {
		b := s.pool.Get(n)
		if _, err := io.ReadFull(r, b.Data); err != nil {
			b.Release()
			return Buffer{}, err
		}
		b.Flags = Late
		return b, nil
	}, nil
}

// Info implements Source.
func (s *Stream) Info() Info { return s.info }

// Next implements Source.
func (s *Stream) Next(ctx context.Context) (Buffer, error) {
	if err := ctx.Err(); err != nil {
		return Buffer{}, err
	}
	quiet := time.NewTimer(s.o.Silence)
	defer quiet.Stop()
	select {
	case b, ok := <-s.ready:
		if !ok {
			return Buffer{}, s.gone()
		}
		return b, nil
	case <-ctx.Done():
		return Buffer{}, ctx.Err()
	case <-quiet.C:
		return Buffer{}, fmt.Errorf("%w: nothing came on %s for %v", ErrNoSignal, s.info.Name, s.o.Silence)
	}
}

func (s *Stream) gone() error {
	switch {
	case errors.Is(s.err, io.ErrUnexpectedEOF):
		return fmt.Errorf("%w: %s ended within a picture", ErrGone, s.info.Name)
	case errors.Is(s.err, io.EOF):
		return fmt.Errorf("%w: %s ended", ErrGone, s.info.Name)
	}
	return fmt.Errorf("%w: %s: %w", ErrGone, s.info.Name, plain(s.err))
}

// Close implements Source.
func (s *Stream) Close() error {
	select {
	case <-s.quit:
		return nil
	default:
	}
	close(s.quit)
	for b := range s.ready {
		b.Release()
	}
	<-s.done
	return s.file.Close()
}

// tap reads what is there and waits for more: before the first byte for a writer
// of the FIFO to come, in a file for it to grow. The end of a FIFO is the end.
type tap struct {
	f       *os.File
	quit    chan struct{}
	fifo    bool
	started bool
}

func (t *tap) Read(p []byte) (int, error) {
	for {
		select {
		case <-t.quit:
			return 0, os.ErrClosed
		default:
		}
		_ = t.f.SetReadDeadline(time.Now().Add(50 * time.Millisecond)) // files have none, and need none
		n, err := t.f.Read(p)
		switch {
		case n > 0:
			t.started = true
			return n, nil
		case err == nil || errors.Is(err, os.ErrDeadlineExceeded):
		case errors.Is(err, io.EOF) && !(t.fifo && t.started):
			time.Sleep(5 * time.Millisecond)
		default:
			return 0, err
		}
	}
}
