package v4l2

import (
	"context"
	"errors"
	"fmt"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"

	"latchproof/harness/live"
)

// reader is a device that streams. It implements live.Source.
type reader struct {
	dev    device
	o      Options
	info   live.Info
	pix    pixFormat
	mapped [][]byte
	on     bool
	closed bool
	pool   live.Pool

	signalRate float64       // of a digital input, hertz; 0: unknown
	offset     time.Duration // host's clock less the driver's
	last       time.Time     // of the last picture, or of the last complaint

	started  bool
	sequence uint32 // the driver's, of the last picture
	count    uint64 // the same, without the wrap
	pending  error  // found after a picture that is whole
}

// Info implements live.Source.
func (r *reader) Info() live.Info { return r.info }

// pollTime is how long a wait lasts before the context is looked at.
const pollTime = 50 * time.Millisecond

// Next implements live.Source.
func (r *reader) Next(ctx context.Context) (live.Buffer, error) {
	for {
		if err := ctx.Err(); err != nil {
			return live.Buffer{}, err
		}
		if err := r.pending; err != nil {
			return live.Buffer{}, err
		}
		ready, err := r.dev.poll(pollTime)
		if err != nil && !errors.Is(err, unix.EINTR) {
			return live.Buffer{}, r.gone(err)
		}
		if !ready {
			if time.Since(r.last) >= r.o.Silence {
				r.last = time.Now()
				return live.Buffer{}, fmt.Errorf("%w: %s: %s", live.ErrNoSignal, r.o.Path, r.whyQuiet())
			}
			continue
		}
		b := buffer{Type: bufCapture, Memory: memoryMmap}
		switch err := r.dev.ioctl(reqDequeue, unsafe.Pointer(&b)); {
		case errors.Is(err, unix.EAGAIN), errors.Is(err, unix.EINTR):
			continue
		case errors.Is(err, unix.EIO):
			return live.Buffer{}, fmt.Errorf("%w: %s: %w", live.ErrFault, r.o.Path, err)
		case err != nil:
			return live.Buffer{}, r.gone(err)
		}
		r.last = time.Now()
		return r.take(b)
	}
}

func (r *reader) gone(err error) error {
	text := err.Error()
	if errors.Is(err, unix.ENODEV) || errors.Is(err, unix.ENXIO) {
		text = "it was disconnected"
	}
	return fmt.Errorf("%w: %s: %s", live.ErrGone, r.o.Path, text)
}

// whyQuiet asks the card why nothing comes.
func (r *reader) whyQuiet() string {
	var t dvTimings
	switch err := r.dev.ioctl(reqQueryDVTimings, unsafe.Pointer(&t)); {
	case errors.Is(err, unix.ENOLINK):
		return "nothing is connected to its input, or what is connected is off"
	case errors.Is(err, unix.ENOLCK):
		return "its input has a signal that is not stable"
	case errors.Is(err, unix.ERANGE):
		return "its input has a signal that it cannot capture"
	}
	var in input
	var n int32
	if r.dev.ioctl(reqGetInput, unsafe.Pointer(&n)) == nil {
		in.Index = uint32(n)
		if r.dev.ioctl(reqEnumInput, unsafe.Pointer(&in)) == nil {
			switch {
			case in.Status&inputNoPower != 0:
				return "what is connected to its input is off"
			case in.Status&inputNoSignal != 0:
				return "there is no signal at its input"
			case in.Status&inputNoSync != 0:
				return "the signal at its input has no sync"
			}
		}
	}
	return fmt.Sprintf("no picture for %v, and the card does not say why", r.o.Silence)
}

// take copies a picture out of its buffer and hands that back to the driver.
func (r *reader) take(b buffer) (live.Buffer, error) {
	if int(b.Index) >= len(r.mapped) {
		return live.Buffer{}, fmt.Errorf("%w: %s: the driver gives buffer %d of %d", live.ErrGone, r.o.Path, b.Index, len(r.mapped))
	}
	out := r.copy(r.mapped[b.Index][:min(int(b.BytesUsed), len(r.mapped[b.Index]))])
	out.Format = r.o.Format
	if b.Flags&flagError != 0 {
		out.Flags |= live.Damaged
	}
	r.number(b, &out)
	if b.Flags&flagTimeMask == flagTimeMonotonic {
		out.Stamp = time.Duration(b.Seconds)*time.Second + time.Duration(b.Micros)*time.Microsecond + r.offset
	} else {
		out.Stamp = r.o.Now()
		out.Flags |= live.Late
	}
	if err := r.queue(b.Index); err != nil {
		r.pending = r.gone(err) // this picture is whole
	}
	return out, nil
}

// number gives the picture its number without the wrap at 2^32. A count that
// stands still or goes back tells nothing.
func (r *reader) number(b buffer, out *live.Buffer) {
	step := b.Sequence - r.sequence
	r.sequence = b.Sequence
	if !r.started {
		r.started = true
		r.count = uint64(b.Sequence)
		out.Seq, out.Flags = r.count, out.Flags|live.HasSeq
		return
	}
	if step == 0 || step > 1<<31 {
		r.count++
		out.Seq = r.count
		return
	}
	r.count += uint64(step)
	out.Seq, out.Flags = r.count, out.Flags|live.HasSeq
}

// copy takes the bytes of a picture, rows without gaps. One that is not coded
// and is not whole has zeros for what is missing.
func (r *reader) copy(src []byte) live.Buffer {
	size := r.o.Size
	if r.o.Format == live.MJPEG {
		b := r.pool.Get(len(src))
		copy(b.Data, src)
		return b
	}
	if len(src) == 0 {
		return live.Buffer{}
	}
	b := r.pool.Get(r.o.Format.Bytes(size))
	row, line := r.rowBytes(), int(r.pix.BytesPerLine)
	for y := range len(b.Data) / row {
		n := 0
		if from := y * line; from < len(src) {
			n = copy(b.Data[y*row:(y+1)*row], src[from:])
		}
		if n < row {
			b.Flags |= live.Damaged
			clear(b.Data[y*row+n : (y+1)*row])
		}
	}
	return b
}

// Close implements live.Source.
func (r *reader) Close() error {
	if r.closed {
		return nil
	}
	r.closed = true
	var errs []error
	if r.on {
		off := int32(bufCapture)
		if err := r.dev.ioctl(reqStreamOff, unsafe.Pointer(&off)); err != nil && !errors.Is(err, unix.ENODEV) {
			errs = append(errs, err)
		}
	}
	for _, m := range r.mapped {
		errs = append(errs, r.dev.munmap(m))
	}
	r.mapped = nil
	return errors.Join(append(errs, r.dev.close())...)
}
