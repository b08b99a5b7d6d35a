package baseline

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// swap exchanges two folders at once; where the file system cannot, one after
// the other.
func swap(a, b string) error {
	err := unix.Renameat2(unix.AT_FDCWD, a, unix.AT_FDCWD, b, unix.RENAME_EXCHANGE)
	if errors.Is(err, unix.EINVAL) || errors.Is(err, unix.ENOSYS) {
		return swapSlowly(a, b)
	}
	if err != nil {
		return &os.LinkError{Op: "exchange", Old: a, New: b, Err: err}
	}
	return nil
}
