package feeder

import "time"

// unwrapper brings the board's 32-bit microseconds, which start over every
// 71.6 minutes, to 64 bits.
type unwrapper struct {
	known      bool
	last       int64 // last value given out
	hasSync    bool
	syncMicros int64
	syncSent   time.Duration
}

// next takes a value that lies within 35 minutes of the last one.
func (u *unwrapper) next(v uint32) int64 {
	if !u.known {
		u.known, u.last = true, int64(v)
		return u.last
	}
	u.last += int64(int32(v - uint32(u.last)))
	return u.last
}

// synced takes the value of a time exchange sent at the host time sent. The
// host's clock says how often the board's has wrapped since the exchange
// before; it may be wrong by 35 minutes.
func (u *unwrapper) synced(v uint32, sent time.Duration) int64 {
	if u.hasSync {
		u.last = u.syncMicros + (sent - u.syncSent).Microseconds()
	}
	m := u.next(v)
	u.hasSync, u.syncMicros, u.syncSent = true, m, sent
	return m
}
