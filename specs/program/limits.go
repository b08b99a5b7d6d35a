package program

import "math"

// Limits bound what a program may ask for. A value below 1 means the default.
type Limits struct {
	Reads   int64 // longest program, in reads
	Nesting int   // deepest nesting of repeats
}

// DefaultLimits are four hours at 60 reads a second, and 16 nested repeats.
var DefaultLimits = Limits{Reads: 864_000, Nesting: 16}

func (l Limits) orDefault() Limits {
	if l.Reads < 1 {
		l.Reads = DefaultLimits.Reads
	}
	if l.Nesting < 1 {
		l.Nesting = DefaultLimits.Nesting
	}
	return l
}

// add is a+b for a, b >= 0, or the largest int64 when that is more.
func add(a, b int64) int64 {
	if a > math.MaxInt64-b {
		return math.MaxInt64
	}
	return a + b
}

// mul is a*b for a, b >= 0, or the largest int64 when that is more.
func mul(a, b int64) int64 {
	if b != 0 && a > math.MaxInt64/b {
		return math.MaxInt64
	}
	return a * b
}

// length watches the reads of a program against the limit. It keeps the place
// where the limit is first passed; the message waits until the whole length is
// known.
type length struct {
	limit     int64
	line, col int // 0 until the limit is passed
}

func (l *length) check(reads int64, line, col int) {
	if reads > l.limit && l.line == 0 {
		l.line, l.col = line, col
	}
}

func (l *length) report(p *problems, reads int64) {
	if l.line == 0 {
		return
	}
	atLeast := ""
	if reads == math.MaxInt64 {
		atLeast = "at least "
	}
	p.fail(l.line, l.col, "the program is %s%d reads long; the limit is %d", atLeast, reads, l.limit)
}
