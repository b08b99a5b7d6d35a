//go:build unix

package soak

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// lock keeps other processes out until the file is closed, however that comes
// about.
func lock(f *os.File) error {
	err := unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB)
	if errors.Is(err, unix.EWOULDBLOCK) {
		return ErrBusy
	}
	return err
}
