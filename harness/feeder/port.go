package feeder

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"sync"
	"sync/atomic"
	"time"

	"go.bug.st/serial"
)

// Dial opens a serial port, or the far end of a pseudo-terminal, by its path
// ("/dev/ttyACM0"): Baud, 8 data bits, no parity, one stop bit, no flow
// control. Errors match ErrPort and say what to do. The line is safe for one
// reader and one writer at a time, and Close may be called from anywhere: it
// ends a pending Read.
func Dial(port string) (io.ReadWriteCloser, error) {
	sp, err := serial.Open(port, &serial.Mode{BaudRate: Baud, DataBits: 8, Parity: serial.NoParity, StopBits: serial.OneStopBit})
	if err != nil {
		return nil, portError(port, err)
	}
	// Reads come back now and then so that Close never pulls the descriptor
	// away under a read or a write, where it might be another file's already.
	if err := sp.SetReadTimeout(50 * time.Millisecond); err != nil {
		sp.Close()
		return nil, portError(port, err)
	}
	return &line{sp: sp}, nil
}

func portError(port string, err error) error {
	text := fmt.Sprintf("cannot open the port %q: %v", port, err)
	var pe *serial.PortError
	code := serial.PortErrorCode(-1)
	if errors.As(err, &pe) {
		code = pe.Code()
	}
	switch {
	case port == "":
		text = "no port is named; give the feeder's serial port, such as /dev/ttyACM0"
	case errors.Is(err, fs.ErrNotExist) || code == serial.PortNotFound:
		text = fmt.Sprintf("the port %q does not exist; plug the feeder in and check the name", port)
	case errors.Is(err, fs.ErrPermission) || code == serial.PermissionDenied:
		text = fmt.Sprintf("no permission to open the port %q; on most systems its group must be joined first", port)
	case code == serial.PortBusy:
		text = fmt.Sprintf("the port %q is in use by another program; close that first", port)
	case code == serial.InvalidSerialPort:
		text = fmt.Sprintf("%q is not a serial port", port)
	}
	return &linkError{kind: ErrPort, cause: err, text: text}
}

// line makes a serial port that can be closed at any moment.
type line struct {
	sp     serial.Port
	closed atomic.Bool
	rd, wr sync.Mutex // held during a system call
}

func (l *line) Read(p []byte) (int, error) {
	for {
		n, err := l.read(p)
		if n != 0 || err != nil || len(p) == 0 {
			return n, err
		}
	}
}

func (l *line) read(p []byte) (int, error) {
	l.rd.Lock()
	defer l.rd.Unlock()
	if l.closed.Load() {
		return 0, fs.ErrClosed
	}
	return l.sp.Read(p)
}

// Write may write less than all with no error when the line hangs up; the
// count tells.
func (l *line) Write(p []byte) (int, error) {
	l.wr.Lock()
	defer l.wr.Unlock()
	if l.closed.Load() {
		return 0, fs.ErrClosed
	}
	return l.sp.Write(p)
}

func (l *line) Close() error {
	if l.closed.Swap(true) {
		return nil
	}
	l.rd.Lock()
	defer l.rd.Unlock()
	// A write is stuck when the other end takes no bytes: forget the bytes,
	// and if that does not free it close the port all the same.
	for range 50 {
		if l.wr.TryLock() {
			defer l.wr.Unlock()
			break
		}
		_ = l.sp.ResetOutputBuffer()
		time.Sleep(10 * time.Millisecond)
	}
	return l.sp.Close()
}
