//go:build unix

package durable

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// Lock keeps other processes that lock the file out until it is closed, however
// that comes about (flock). It does not wait: ErrLocked says that another has it.
func Lock(f *os.File) error {
	err := unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB)
	if errors.Is(err, unix.EWOULDBLOCK) {
		return ErrLocked
	}
	return err
}
