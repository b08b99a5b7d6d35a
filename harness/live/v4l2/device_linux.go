package v4l2

import (
	"errors"
	"os"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"
)

// device is what the reader needs of the kernel; the tests have one of their
// own.
type device interface {
	ioctl(request uintptr, arg unsafe.Pointer) error
	mmap(offset int64, length int) ([]byte, error)
	munmap(b []byte) error
	// poll waits until a buffer may be taken, or something went wrong; false
	// means that the time is over.
	poll(timeout time.Duration) (bool, error)
	// monotonic is CLOCK_MONOTONIC, which drivers stamp with.
	monotonic() time.Duration
	close() error
}

// kernel is a device file.
type kernel struct{ fd int }

func openKernel(path string) (*kernel, error) {
	for {
		fd, err := unix.Open(path, unix.O_RDWR|unix.O_NONBLOCK|unix.O_CLOEXEC, 0)
		if errors.Is(err, unix.EINTR) {
			continue
		}
		if err != nil {
			return nil, err
		}
		var st unix.Stat_t
		if err := unix.Fstat(fd, &st); err != nil || st.Mode&unix.S_IFMT != unix.S_IFCHR {
			unix.Close(fd)
			return nil, errors.Join(err, errors.New("it is not a device"))
		}
		return &kernel{fd}, nil
	}
}

func (k *kernel) ioctl(request uintptr, arg unsafe.Pointer) error {
	for {
		_, _, e := unix.Syscall(unix.SYS_IOCTL, uintptr(k.fd), request, uintptr(arg))
		switch e {
		case 0:
			return nil
		case unix.EINTR: // the runtime's own signals
			continue
		}
		return os.NewSyscallError("ioctl", e)
	}
}

func (k *kernel) mmap(offset int64, length int) ([]byte, error) {
	return unix.Mmap(k.fd, offset, length, unix.PROT_READ|unix.PROT_WRITE, unix.MAP_SHARED)
}

func (k *kernel) munmap(b []byte) error { return unix.Munmap(b) }

func (k *kernel) poll(timeout time.Duration) (bool, error) {
	fds := []unix.PollFd{{Fd: int32(k.fd), Events: unix.POLLIN}}
	n, err := unix.Poll(fds, int(timeout.Milliseconds()))
	if errors.Is(err, unix.EINTR) {
		return false, nil
	}
	return n > 0, err
}

func (k *kernel) monotonic() time.Duration {
	var t unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_MONOTONIC, &t); err != nil {
		return 0
	}
	return time.Duration(t.Nano())
}

func (k *kernel) close() error { return unix.Close(k.fd) }
