//go:build unix

package live

import (
	"os"

	"golang.org/x/sys/unix"
)

// openReading opens a FIFO without waiting for its writer.
func openReading(path string) (*os.File, error) {
	return os.OpenFile(path, os.O_RDONLY|unix.O_NONBLOCK, 0)
}
