package clock

import (
	"fmt"
	"math"
	"slices"
	"time"

	"latchproof/harness/feeder"
	"latchproof/harness/stats"
)

// Line is the board's clock on the host's clock:
// host = Host + Rate*(board-Board), board in microseconds.
//
// The zero Line (Rate 0) means that nothing relates the two clocks.
type Line struct {
	Host     time.Duration // host clock at the reference
	Board    int64         // board clock at the reference, microseconds
	Rate     float64       // host time per board time, near 1
	RateHalf float64       // half width of what Rate may be, outside From..To
	// Residual bounds how far the line may be off between From and To, apart
	// from a constant that belongs to the link (see FitBoard).
	Residual time.Duration
	// HalfTrip is half of the shortest round trip: the bound of that constant.
	HalfTrip time.Duration
	From, To int64 // board clock at the first and last exchange, microseconds
}

const (
	boardMax  = 1000e-6 // a board's rate is this near to 1, or something is wrong
	apartFrom = 0.5e6   // a pause as long as this separates groups of exchanges, microseconds
)

// Known reports whether there is a line.
func (l Line) Known() bool { return l.Rate != 0 }

// At is the host clock at a board time in microseconds.
func (l Line) At(board int64) time.Duration {
	return l.Host + time.Duration(math.Round(l.Rate*float64(board-l.Board)*1e3))
}

// Err bounds the error of At: Residual, growing outside of From..To with
// RateHalf, and 0.5 parts per million of the distance to the nearer end for
// the wander of the board's crystal.
func (l Line) Err(board int64) time.Duration {
	inside := max(0, min(board-l.From, l.To-board))
	outside := max(0, l.From-board, board-l.To)
	return l.Residual + time.Duration(1e3*(wanderFree/2*float64(inside)+(l.RateHalf+wanderFree/2)*float64(outside)))
}

// FitBoard fits the line to time exchanges. In each, the board read its clock
// at some host time between Sent and Received. A trip is never shorter than
// the link allows but often longer, so in each group of exchanges (pauses of
// 0.5 s separate groups) the latest Sent and the earliest Received, both less
// the board time, are taken as the envelope, and its middle as the offset: the
// minimum filter of D. L. Mills, IEEE Transactions on Communications
// 39:1482-1493, 1991, taken for both directions apart. The rate is the
// Theil-Sen slope through the groups. With a single group it is 1, with 1000
// parts per million of doubt, which grows with the distance from the exchanges:
// exchange time before and after a run.
//
// The envelope cannot tell a link whose shortest trips differ in the two
// directions; half the difference shifts the line by a constant. A latency
// that was calibrated over the same link holds the same constant, so the two
// cancel.
//
// It is an error (ErrNoSync) when no exchange is usable, and (ErrBoardClock)
// when the clocks differ in rate by more than 1000 parts per million.
func FitBoard(syncs []feeder.Sync) (Line, error) {
	var s []feeder.Sync
	for _, x := range syncs {
		if x.Received >= x.Sent && x.Received-x.Sent < time.Second {
			s = append(s, x)
		}
	}
	if len(s) == 0 {
		return Line{}, fmt.Errorf("%w among %d", ErrNoSync, len(syncs))
	}
	slices.SortStableFunc(s, func(a, b feeder.Sync) int {
		switch {
		case a.Micros < b.Micros:
			return -1
		case a.Micros > b.Micros:
			return 1
		}
		return 0
	})
	l := Line{Board: s[0].Micros, Host: s[0].Sent, Rate: 1, From: s[0].Micros, To: s[len(s)-1].Micros}
	trip := s[0].Received - s[0].Sent
	for _, x := range s {
		trip = min(trip, x.Received-x.Sent)
	}
	l.HalfTrip = (trip + 1) / 2
	groups := split(s)
	if len(groups) == 1 {
		off, err, at := l.envelope(s)
		l.Host += seconds(off)
		l.Residual = seconds(err)
		l.RateHalf = boardMax
		// The rate is unknown, so the doubt grows from the middle.
		l.From += int64(at * 1e6)
		l.To = l.From
		return l, nil
	}
	// Twice: the second time with the rate of the first, so that the envelopes
	// of long groups are level.
	var errs []float64
	for range 2 {
		var x, y []float64
		errs = errs[:0]
		for _, g := range groups {
			off, err, at := l.envelope(g)
			x, y = append(x, at), append(y, off+(l.Rate-1)*at)
			errs = append(errs, err)
		}
		slope, intercept, err := stats.TheilSen(x, y)
		if err != nil {
			return Line{}, fmt.Errorf("%w: %w", ErrNoSync, err)
		}
		if math.Abs(slope) > boardMax {
			return Line{}, fmt.Errorf("%w: %.0f parts per million", ErrBoardClock, slope*1e6)
		}
		for i := range x {
			// What a group's envelope cannot explain is doubt of the line.
			errs[i] = max(errs[i], math.Abs(y[i]-intercept-slope*x[i]))
		}
		l.Rate = 1 + slope
		l.Host += seconds(intercept)
	}
	slices.Sort(errs)
	// The line passes between the groups; a few bad ones do not carry it.
	worst := errs[max(0, (len(errs)*3+3)/4-1)]
	if len(errs) < 4 {
		worst = errs[len(errs)-1]
	}
	l.Residual = seconds(worst)
	l.RateHalf = min(boardMax, 2*worst/(float64(l.To-l.From)*1e-6))
	return l, nil
}

// split separates exchanges at pauses of apartFrom, and keeps groups under 5 s.
func split(s []feeder.Sync) (groups [][]feeder.Sync) {
	from := 0
	for i := 1; i <= len(s); i++ {
		if i == len(s) || s[i].Micros-s[i-1].Micros > apartFrom || s[i].Micros-s[from].Micros > 5e6 {
			groups = append(groups, s[from:i])
			from = i
		}
	}
	return groups
}

// envelope is the offset of the host clock from the line by a group of
// exchanges, a bound of its error apart from the link's constant, and the mean
// board time of the group from the reference; seconds.
//
// When the delays are spread evenly near the shortest, the excess e of the
// shortest one and the spacings of the next ones are exponential with one
// mean, so e over the mean m of the 12 spacings of 7 trips in 2 directions
// exceeds 14 with a chance of (1+14/12)^-12, one in 10,000. Half of 14 m is
// the bound, unless half of the envelope's width, which always holds, is
// smaller. With fewer trips that is the bound. 32 exchanges or more keep it
// small.
func (l Line) envelope(g []feeder.Sync) (off, err, at float64) {
	lows, highs := make([]float64, len(g)), make([]float64, len(g))
	for i, x := range g {
		b := float64(x.Micros-l.Board) * 1e-6
		lows[i] = -((x.Sent - l.Host).Seconds() - l.Rate*b) // ascending delay
		highs[i] = (x.Received - l.Host).Seconds() - l.Rate*b
		at += b / float64(len(g))
	}
	slices.Sort(lows)
	slices.Sort(highs)
	off = (highs[0] - lows[0]) / 2
	width := (highs[0] + lows[0]) / 2
	const k = 6
	if len(g) <= k {
		return off, math.Abs(width), at
	}
	m := (highs[k] - highs[0] + lows[k] - lows[0]) / (2 * k)
	return off, max(min(14*m/2, math.Abs(width)), -width) + 1e-6, at
}

func seconds(s float64) time.Duration { return time.Duration(math.Round(s * 1e9)) }
