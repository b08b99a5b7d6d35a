package v4l2

import (
	"errors"
	"fmt"
	"math"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"

	"latchproof/harness/live"
)

// Open opens a video device, sets what it must deliver, makes sure that it took
// it, and starts it. Errors wrap live.ErrNoCard and say what the driver offers
// instead.
func Open(o Options) (live.Source, error) {
	fail := func(err error) (live.Source, error) {
		return nil, fmt.Errorf("%w: %s: %w", live.ErrNoCard, o.Path, err)
	}
	if unsafe.Sizeof(uintptr(0)) != 8 {
		return fail(errors.New("capturing needs a machine of 64 bits"))
	}
	k, err := openKernel(o.Path)
	if err != nil {
		return fail(err)
	}
	r, err := start(k, o)
	if err != nil {
		return fail(err)
	}
	return r, nil
}

// pixelFormats are the driver's names of what can be asked for.
var pixelFormats = map[live.Format][]uint32{
	live.MJPEG: {fourcc("MJPG"), fourcc("JPEG")},
	live.YUYV:  {fourcc("YUYV")},
	live.NV12:  {fourcc("NV12")},
}

// start readies a device that is open. When it fails the device is closed.
func start(dev device, o Options) (_ *reader, err error) {
	if o.Buffers <= 0 {
		o.Buffers = 8
	}
	if o.Silence <= 0 {
		o.Silence = time.Second
	}
	r := &reader{dev: dev, o: o}
	defer func() {
		if err != nil {
			err = errors.Join(err, r.Close())
		}
	}()
	var c capability
	if err := dev.ioctl(reqQueryCap, unsafe.Pointer(&c)); err != nil {
		return nil, fmt.Errorf("it is no video device: %w", err)
	}
	can := c.Capabilities
	if can&capDeviceCaps != 0 {
		can = c.Device
	}
	if can&capCapture == 0 || can&capStreaming == 0 {
		return nil, errors.New("it does not capture video by mapped buffers (a card often has several devices; try the next)")
	}
	card := append(append([]byte(nil), c.Card[:]...), c.card2[:]...)
	r.info = live.Info{Name: fmt.Sprintf("%s (%s)", o.Path, text(card)), Format: o.Format, Size: o.Size}
	if err := r.setFormat(); err != nil {
		return nil, err
	}
	r.timings()
	if err := r.setRate(); err != nil {
		return nil, err
	}
	r.offset = offset(dev, o.Now)
	if err := r.buffersOn(); err != nil {
		return nil, err
	}
	r.last = time.Now()
	return r, nil
}

// text is a C string.
func text(b []byte) string {
	for i, c := range b {
		if c == 0 {
			return string(b[:i])
		}
	}
	return string(b)
}

// offset is the host's clock less the drivers', by the quickest of several
// looks at both.
func offset(dev device, now func() time.Duration) time.Duration {
	best, off := time.Duration(math.MaxInt64), time.Duration(0)
	for range 16 {
		a := now()
		m := dev.monotonic()
		b := now()
		if b-a < best {
			best, off = b-a, a+(b-a)/2-m
		}
	}
	return off
}

// setFormat sets format and size and reads them back: a driver may take another
// without a word.
func (r *reader) setFormat() error {
	codes := pixelFormats[r.o.Format]
	if codes == nil {
		return fmt.Errorf("pictures in %q cannot be captured", string(r.o.Format))
	}
	var got format
	for _, code := range codes {
		f := format{Type: bufCapture, Pix: pixFormat{
			Width: uint32(r.o.Size.X), Height: uint32(r.o.Size.Y), PixelFormat: code,
		}}
		if err := r.dev.ioctl(reqSetFormat, unsafe.Pointer(&f)); err != nil {
			return fmt.Errorf("it takes no format: %w", err)
		}
		got = format{Type: bufCapture}
		if err := r.dev.ioctl(reqGetFormat, unsafe.Pointer(&got)); err != nil {
			return fmt.Errorf("it does not say its format: %w", err)
		}
		if got.Pix.PixelFormat == code {
			break
		}
	}
	p := got.Pix
	is := false
	for _, code := range codes {
		is = is || p.PixelFormat == code
	}
	switch {
	case !is:
		return fmt.Errorf("%s was asked for and the driver gives %s", string(r.o.Format), nameOf(p.PixelFormat))
	case int(p.Width) != r.o.Size.X || int(p.Height) != r.o.Size.Y:
		return fmt.Errorf("%dx%d was asked for and the driver gives %dx%d", r.o.Size.X, r.o.Size.Y, p.Width, p.Height)
	}
	switch p.Field {
	case fieldNone:
	case fieldInterlaced, fieldInterlacedTB, fieldInterlacedBT:
		r.note("the driver weaves two fields into a picture")
	default:
		return fmt.Errorf("the driver gives fields of kind %d, not whole pictures", p.Field)
	}
	if r.o.Format != live.MJPEG {
		if p.Quantization == quantFull {
			r.note("the driver says full range; the pictures are taken for limited range, so contrast is a sixth too high")
		}
		if int(p.BytesPerLine) < r.rowBytes() {
			return fmt.Errorf("the driver gives rows of %d bytes, and %d are needed", p.BytesPerLine, r.rowBytes())
		}
	}
	r.pix = p
	return nil
}

func (r *reader) note(format string, a ...any) {
	r.info.Notes = append(r.info.Notes, fmt.Sprintf(format, a...))
}

// rowBytes is the length of a row of the first plane without a gap.
func (r *reader) rowBytes() int {
	if r.o.Format == live.YUYV {
		return 2 * r.o.Size.X
	}
	return r.o.Size.X
}

// timings asks a digital input for what arrives. Nothing is done about it: a
// signal may come later.
func (r *reader) timings() {
	var t dvTimings
	if r.dev.ioctl(reqQueryDVTimings, unsafe.Pointer(&t)) != nil {
		return
	}
	clock := float64(uint64(t.PixelClock[0]) | uint64(t.PixelClock[1])<<32)
	w := t.Width + t.HFront + t.HSync + t.HBack
	h := t.Height + t.VFront + t.VSync + t.VBack
	if t.Interlaced != 0 {
		h += t.ILVFront + t.ILVSync + t.ILVBack
	}
	if clock > 0 && w > 0 && h > 0 {
		r.signalRate = clock / (float64(w) * float64(h))
	}
	if int(t.Width) != r.o.Size.X || int(t.Height) != r.o.Size.Y {
		r.note("the signal is %dx%d at %.2f Hz, and the card makes %dx%d of it", t.Width, t.Height, r.signalRate, r.o.Size.X, r.o.Size.Y)
	}
}

// rateLimit is how far the driver's rate may be from the one asked for.
const rateLimit = 1e-3

// setRate sets the rate and reads it back. A driver that sets none delivers at
// the rate of the signal.
func (r *reader) setRate() error {
	p := streamParm{Type: bufCapture}
	if want := r.o.Rate; want > 0 {
		p.TimePerFrame = period(want)
		_ = r.dev.ioctl(reqSetParm, unsafe.Pointer(&p)) // what counts is what is read back
		p = streamParm{Type: bufCapture}
	}
	err := r.dev.ioctl(reqGetParm, unsafe.Pointer(&p))
	got := 0.0
	if err == nil && p.TimePerFrame.Num > 0 && p.TimePerFrame.Den > 0 {
		got = float64(p.TimePerFrame.Den) / float64(p.TimePerFrame.Num)
	}
	switch {
	case got == 0:
		got = r.signalRate
	case r.o.Rate > 0 && math.Abs(got/r.o.Rate-1) > rateLimit:
		return fmt.Errorf("%.3f pictures a second were asked for and the driver gives %.3f", r.o.Rate, got)
	}
	if got == 0 {
		got = r.o.Rate
	}
	r.info.Rate = got
	return nil
}

// period is one over a rate: of a whole number, or of one of the kind
// 60000/1001.
func period(rate float64) fraction {
	if w := math.Round(rate); math.Abs(rate-w) < 1e-6*rate {
		return fraction{1, uint32(w)}
	}
	return fraction{1001, uint32(math.Round(rate * 1001))}
}

// buffersOn has the driver make buffers, maps them, hands them all over and
// starts the stream.
func (r *reader) buffersOn() error {
	req := requestBuffers{Count: uint32(r.o.Buffers), Type: bufCapture, Memory: memoryMmap}
	if err := r.dev.ioctl(reqBuffers, unsafe.Pointer(&req)); err != nil {
		if errors.Is(err, unix.EBUSY) {
			return fmt.Errorf("another program captures from it: %w", err)
		}
		return fmt.Errorf("it gives no buffers: %w", err)
	}
	if req.Count < 2 {
		return fmt.Errorf("it gives only %d buffers", req.Count)
	}
	for i := range req.Count {
		b := buffer{Index: i, Type: bufCapture, Memory: memoryMmap}
		if err := r.dev.ioctl(reqQueryBuffer, unsafe.Pointer(&b)); err != nil {
			return fmt.Errorf("buffer %d: %w", i, err)
		}
		m, err := r.dev.mmap(int64(b.Offset), int(b.Length))
		if err != nil {
			return fmt.Errorf("buffer %d: %w", i, err)
		}
		r.mapped = append(r.mapped, m)
		if need := r.needs(); need > 0 && len(m) < need {
			return fmt.Errorf("its buffers have %d bytes, and a picture has %d", len(m), need)
		}
		if err := r.queue(i); err != nil {
			return fmt.Errorf("buffer %d: %w", i, err)
		}
	}
	on := int32(bufCapture)
	if err := r.dev.ioctl(reqStreamOn, unsafe.Pointer(&on)); err != nil {
		return fmt.Errorf("it does not start: %w", err)
	}
	r.on = true
	return nil
}

// needs is how many bytes of a buffer a picture that is not coded reaches over.
func (r *reader) needs() int {
	line, h := int(r.pix.BytesPerLine), r.o.Size.Y
	switch r.o.Format {
	case live.YUYV:
		return line*(h-1) + 2*r.o.Size.X
	case live.NV12:
		return line*(h+h/2-1) + r.o.Size.X
	}
	return 0
}

func (r *reader) queue(i uint32) error {
	b := buffer{Index: i, Type: bufCapture, Memory: memoryMmap}
	return r.dev.ioctl(reqQueue, unsafe.Pointer(&b))
}
