//go:build !linux

package v4l2

import (
	"errors"
	"fmt"

	"latchproof/harness/live"
)

// Open gives ErrNoCard: Video4Linux2 is a part of Linux.
func Open(o Options) (live.Source, error) {
	return nil, fmt.Errorf("%w: %s: %w", live.ErrNoCard, o.Path, errors.New("video devices can only be read on Linux"))
}
