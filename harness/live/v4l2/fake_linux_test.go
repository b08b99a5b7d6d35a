package v4l2

import (
	"time"
	"unsafe"

	"golang.org/x/sys/unix"
)

// fake is a device made up by the tests: a script of what DQBUF finds.
type fake struct {
	caps     uint32
	pix      pixFormat // what G_FMT says after S_FMT
	rate     fraction  // what G_PARM says; 0: it has none
	timings  error     // of QUERY_DV_TIMINGS
	status   uint32    // of the input
	count    uint32    // buffers given, whatever was asked for
	length   int
	steps    []step
	clock    time.Duration
	queueErr error

	asked    format
	buffers  [][]byte
	queued   map[uint32]bool
	on       bool
	closed   bool
	unmapped int
}

// step is what one DQBUF gives, or why it does not; quiet means that poll finds
// nothing.
type step struct {
	b     buffer
	data  []byte
	err   error
	quiet bool
}

func (f *fake) ioctl(request uintptr, arg unsafe.Pointer) error {
	switch request {
	case reqQueryCap:
		c := (*capability)(arg)
		copy(c.Card[:], "made-up card")
		c.Capabilities, c.Device = capDeviceCaps|capCapture|capStreaming, f.caps
	case reqSetFormat:
		f.asked = *(*format)(arg)
	case reqGetFormat:
		(*format)(arg).Pix = f.pix
	case reqGetParm, reqSetParm:
		if f.rate.Num == 0 {
			return unix.ENOTTY
		}
		(*streamParm)(arg).TimePerFrame = f.rate
	case reqQueryDVTimings:
		return f.timings
	case reqGetInput:
	case reqEnumInput:
		(*input)(arg).Status = f.status
	case reqBuffers:
		(*requestBuffers)(arg).Count = f.count
		f.queued = map[uint32]bool{}
	case reqQueryBuffer:
		b := (*buffer)(arg)
		b.Offset, b.Length = b.Index*4096, uint32(f.length)
	case reqQueue:
		if f.queueErr != nil {
			return f.queueErr
		}
		f.queued[(*buffer)(arg).Index] = true
	case reqStreamOn:
		f.on = true
	case reqStreamOff:
		f.on = false
	case reqDequeue:
		if len(f.steps) == 0 {
			return unix.ENODEV
		}
		s := f.steps[0]
		f.steps = f.steps[1:]
		if s.err != nil {
			return s.err
		}
		if !f.queued[s.b.Index] {
			return unix.EINVAL // the reader never gave it back
		}
		delete(f.queued, s.b.Index)
		copy(f.buffers[s.b.Index], s.data)
		*(*buffer)(arg) = s.b
	default:
		return unix.ENOTTY
	}
	return nil
}

func (f *fake) mmap(int64, int) ([]byte, error) {
	b := make([]byte, f.length)
	f.buffers = append(f.buffers, b)
	return b, nil
}

func (f *fake) munmap([]byte) error { f.unmapped++; return nil }

func (f *fake) poll(d time.Duration) (bool, error) {
	if len(f.steps) > 0 && f.steps[0].quiet {
		time.Sleep(d / 10)
		f.steps = f.steps[1:]
		return false, nil
	}
	return true, nil
}

func (f *fake) monotonic() time.Duration { return f.clock }
func (f *fake) close() error             { f.closed = true; return nil }

var _ device = (*fake)(nil)
