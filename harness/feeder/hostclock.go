package feeder

import "time"

type hostClock struct{ zero time.Time }

// NewHostClock makes a clock that starts at 0 now and follows the system's
// monotonic clock.
func NewHostClock() Clock { return hostClock{time.Now()} }

// Now implements Clock.
func (c hostClock) Now() time.Duration { return time.Since(c.zero) }
