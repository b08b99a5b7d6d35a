package live

import "time"

// drift follows how the board's clock runs away from the host's during a run, in
// which no clocks may be compared, by the log records: one that is hardly held
// up on its way arrives by the same little later each time. The least delay in
// each stretch of time is held against that of the first stretches.
type drift struct {
	shift time.Duration // what the line from the exchanges is short of
	doubt time.Duration
	known bool

	open   bool
	until  time.Duration // end of the stretch, arrival
	least  time.Duration // in the stretch
	first  time.Duration // in the first stretches
	recent [3]time.Duration
	n      int
}

const (
	driftStretch = 2 * time.Second
	driftFirst   = 3                       // stretches that say how long the way is
	driftDoubt   = 1500 * time.Microsecond // by how much the least delays may differ: a serial bridge over USB polls every 1 ms (common practice, no source)
)

// arrived takes the delay of a record by the line from the exchanges.
func (d *drift) arrived(at, delay time.Duration) {
	if !d.open {
		d.open, d.until, d.least = true, at+driftStretch, delay
	}
	d.least = min(d.least, delay)
	if at < d.until {
		return
	}
	d.open = false
	d.recent[d.n%len(d.recent)] = d.least
	d.n++
	switch {
	case d.n < driftFirst:
	case d.n == driftFirst:
		d.first = min(d.recent[0], d.recent[1], d.recent[2])
	default:
		d.known, d.doubt = true, driftDoubt
		d.shift = min(d.recent[0], d.recent[1], d.recent[2]) - d.first
	}
}
