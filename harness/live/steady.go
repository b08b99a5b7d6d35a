package live

import (
	"math"
	"time"
)

// steady takes the jitter out of the instants of a card's pictures as they come:
// a phase-locked count of a row of equal steps.
type steady struct {
	period float64 // nominal, ns; 0: unknown, then nothing is taken out

	any    bool
	at     float64 // of the last picture, ns
	n      int     // pictures that the row was made of
	square float64 // mean square of the jitter, ns²

	offset time.Duration // host's clock less the stream's own
	laid   bool          // offset is known
}

const (
	// untold is what an instant may be off before a row is known, and told what
	// remains besides the jitter (reads, and the wander of both clocks): by
	// estimate.
	untold, told = 500 * time.Microsecond, 100 * time.Microsecond
	// The row is moved by this part of a picture's jitter, and what the jitter is
	// by that.
	slow, slower = 1. / 16, 1. / 32
	// again is a change of offset after which the row begins anew.
	again = 100 * time.Microsecond
)

// instant is when a picture was taken on the host's clock, and by how much that
// may be wrong.
func (s *steady) instant(b Buffer) (at, doubt time.Duration) {
	at = b.Stamp
	if b.Flags&HasMedia != 0 { // as in instants
		if off := b.Stamp - b.Media; !s.laid || off < s.offset {
			if s.laid && s.offset-off > again {
				s.any = false
			}
			s.offset, s.laid = off, true
		}
		at = b.Media + s.offset
	}
	if s.period <= 0 {
		return at, untold
	}
	if !s.any {
		s.any, s.at, s.n, s.square = true, float64(at), 1, 0
		return at, untold
	}
	steps := (float64(at) - s.at) / s.period
	k := math.Round(steps)
	off := (steps - k) * s.period
	if k < 1 || math.Abs(off) > s.period/4 {
		return at, time.Duration(s.period / 4)
	}
	s.n++
	gain := max(1/float64(s.n), slow)
	s.at += k*s.period + gain*off
	s.square += (off*off - s.square) * max(1/float64(s.n-1), slower)
	if s.n < 4 {
		return at, untold
	}
	// The noise that a loop of the first order lets through.
	return time.Duration(s.at), told + time.Duration(3*math.Sqrt(s.square*gain/(2-gain)))
}
