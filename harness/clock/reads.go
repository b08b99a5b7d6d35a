package clock

import (
	"fmt"
	"math"
	"sort"
	"time"

	"latchproof/specs/console"
	"latchproof/specs/program"
)

const (
	minReads      = 30
	nominalLimit  = 2000e-6 // how far the rate may be from the profile's
	lateInARow    = 8
	spreadOfReads = 0.1 // ticks; half width of the middle half
)

// ReadFit is the read log on the console's frame grid.
type ReadFit struct {
	// Period of a console frame by the board's clock, seconds, and its
	// difference from nominal in parts per million. The board's own error is
	// part of both.
	Period float64
	PPM    float64
	// Jitter is the RMS of the read times about the grid.
	Jitter time.Duration
	// Doubles counts the reads that were several latch pulses.
	Doubles int

	grid   *grid
	origin int64 // board time of the grid's zero, microseconds
	shift  int64 // tick of frame 0
	frames []console.Frame
	kinds  []readKind
	main   []program.Read // reads that hold, ascending: one for every frame that has any
	lag    []console.Frame
	extra  []program.Read
	late   []program.Read
	why    error
	whole  int // reads whose number is certain: those before the first lost record
}

type readKind uint8

const (
	onGrid readKind = iota
	extraRead
	lateRead
)

// FitReads finds the console's frames in the times of its reads: a row with a
// steady period in which ticks may be missing (lag frames, and reads that the
// board missed) and strays may lie between (reads too many in a frame). Frame
// 0 is the frame of the first read.
//
// A read within the grid's tolerance of a tick is the read of that frame; when
// several are, the nearest. Any other read belongs to the frame in which its
// time falls: it is an extra read when that frame has a read already, and a
// late one when not. The tolerance follows the jitter of the reads: about four
// times its half width when it is evenly spread, five standard deviations when
// it is normal.
//
// On an error the fit is not nil; it holds no frames, and a clock built with
// it is Untrusted with the reason. Errors: ErrNoReads, ErrFewReads (under 30),
// ErrNotAscending, ErrUnsteady (most reads do not keep one moment in the
// frame), ErrBroken (a reset in the middle; a pause too long to count
// through), ErrOffNominal (period more than 2000 parts per million from
// nominal), ErrInput (nominal not within 1 to 1000 Hz). The work grows as n log n.
//
// What it cannot tell: a first read that the board missed (all frames are one
// too low; an anchor shows it), a reset after which the reads happen to fall on
// the old grid, and a read too many that falls on the tick of a frame without a
// read of its own.
func FitReads(reads []ReadEvent, nominal console.Rate) (*ReadFit, error) {
	f := &ReadFit{}
	if err := f.fit(reads, nominal); err != nil {
		return &ReadFit{why: err}, err
	}
	return f, nil
}

func (f *ReadFit) fit(reads []ReadEvent, nominal console.Rate) error {
	if !plausible(nominal) {
		return fmt.Errorf("%w: nominal frame rate %d/%d", ErrInput, nominal.Num, nominal.Den)
	}
	if len(reads) == 0 {
		return ErrNoReads
	}
	f.origin = reads[0].Time
	f.whole = len(reads)
	times := make([]float64, len(reads))
	for i, r := range reads {
		if i > 0 && r.Time <= reads[i-1].Time {
			return fmt.Errorf("read log: %w: read %d at %d us, read %d at %d us", ErrNotAscending, i-1, reads[i-1].Time, i, r.Time)
		}
		times[i] = float64(r.Time-f.origin) * 1e-6
		if r.Pulses > 1 {
			f.Doubles++
		}
		if r.Lost > 0 {
			f.whole = min(f.whole, i)
		}
	}
	if len(reads) < minReads {
		return fmt.Errorf("%w: %d, and %d are needed", ErrFewReads, len(reads), minReads)
	}
	g, _, err := fitGrid(times, nominal.Period(), spreadOfReads)
	if err != nil {
		return fmt.Errorf("read log: %w", err)
	}
	f.grid = g
	f.Period = g.period
	f.PPM = (nominal.Period()/g.period - 1) * 1e6
	if math.Abs(f.PPM) > nominalLimit*1e6 {
		return fmt.Errorf("read log: %w: %.4f Hz, and the profile says %.4f Hz", ErrOffNominal, 1/g.period, nominal.Hz())
	}
	return f.place(times, reads)
}

// place gives every read its frame.
func (f *ReadFit) place(times []float64, reads []ReadEvent) error {
	g := f.grid
	n := len(times)
	tol := min(max(2*g.width, 100e-6)+g.fit+g.slack, g.period/4)
	near := make([]int64, n)
	off := make([]float64, n) // seconds after the nearest tick
	floor := make([]int64, n)
	f.kinds = make([]readKind, n)
	var sum float64
	on := 0
	for i, t := range times {
		x := g.tick(t)
		near[i], floor[i] = int64(math.Round(x)), int64(math.Floor(x))
		off[i] = t - g.at(float64(near[i]))
		// A stray pulse just before the console's own made one read with it:
		// the pulse nearest to the grid tells.
		for _, after := range reads[i].After {
			t := t + float64(after)*1e-6
			n := math.Round(g.tick(t))
			if o := t - g.at(n); math.Abs(o) < math.Abs(off[i]) && math.Abs(off[i]) > tol {
				near[i], off[i] = int64(n), o
			}
		}
		f.kinds[i] = lateRead
		if math.Abs(off[i]) <= tol {
			f.kinds[i] = onGrid
			for j := i - 1; j >= 0 && near[j] == near[i]; j-- {
				if f.kinds[j] != onGrid {
					continue
				}
				if math.Abs(off[j]) <= math.Abs(off[i]) {
					f.kinds[i] = lateRead
				} else {
					f.kinds[j] = lateRead
				}
			}
		}
	}
	if near[n-1]-near[0] > maxFrames {
		return fmt.Errorf("read log: %w: %d frames are too long to be one run", ErrBroken, near[n-1]-near[0])
	}
	f.frames = make([]console.Frame, n)
	tick := func(i int) int64 {
		if f.kinds[i] == onGrid {
			return near[i]
		}
		return floor[i]
	}
	f.shift = tick(0)
	inRow := 0
	for i := range times {
		f.frames[i] = console.Frame(tick(i) - f.shift)
		if f.kinds[i] == onGrid {
			sum += off[i] * off[i]
			on++
			f.main = append(f.main, program.Read(i))
			inRow = 0
			continue
		}
		if len(f.main) > 0 && f.frames[f.main[len(f.main)-1]] == f.frames[i] {
			f.kinds[i] = extraRead
			f.extra = append(f.extra, program.Read(i))
			continue
		}
		f.late = append(f.late, program.Read(i))
		f.main = append(f.main, program.Read(i))
		if inRow++; inRow >= lateInARow {
			return fmt.Errorf("read log: %w: from read %d on, %.1f s from the start, the reads are off the grid (a reset, or another moment of reading)",
				ErrBroken, i+1-inRow, times[i+1-inRow])
		}
	}
	if len(f.late) > 2+n/20 {
		return fmt.Errorf("read log: %w: %d of %d reads are off it, in frames with no other read", ErrUnsteady, len(f.late), n)
	}
	for i := 1; i < len(f.main); i++ {
		for fr := f.frames[f.main[i-1]] + 1; fr < f.frames[f.main[i]]; fr++ {
			f.lag = append(f.lag, fr)
		}
	}
	if on > 0 {
		f.Jitter = seconds(math.Sqrt(sum / float64(on)))
	}
	return nil
}

// Reads is the number of reads that have a frame.
func (f *ReadFit) Reads() int { return len(f.frames) }

// Err is why the fit holds no frames; nil when it does.
func (f *ReadFit) Err() error { return f.why }

// FrameOfRead is the frame in which read r was made; false for a read that is
// not in the log, or that comes after a lost record, so that nobody knows its
// number.
func (f *ReadFit) FrameOfRead(r program.Read) (console.Frame, bool) {
	if f == nil || r < 0 || int(r) >= min(len(f.frames), f.whole) {
		return 0, false
	}
	return f.frames[r], true
}

// Whole is how many reads there are before the first lost log record, and
// whether there is one.
func (f *ReadFit) Whole() (reads int, lost bool) {
	if f == nil {
		return 0, false
	}
	return min(len(f.frames), f.whole), f.whole < len(f.frames)
}

// ReadAt is the read in force at a frame: the frame's own read, or in a lag
// frame the last one before. An extra read is never in force: the console did
// not ask for it where it asks. False before frame 0, after the frame of the
// last read, and where a lost record leaves the read's number unknown.
func (f *ReadFit) ReadAt(fr console.Frame) (program.Read, bool) {
	if f == nil || len(f.main) == 0 || fr < 0 || fr > f.LastFrame() {
		return 0, false
	}
	i := sort.Search(len(f.main), func(i int) bool { return f.frames[f.main[i]] > fr })
	r := f.main[i-1]
	return r, int(r) < f.whole
}

// ReadsIn is the first read logged in a frame and how many there are.
func (f *ReadFit) ReadsIn(fr console.Frame) (first program.Read, n int) {
	if f == nil {
		return 0, 0
	}
	from := sort.Search(len(f.frames), func(i int) bool { return f.frames[i] >= fr })
	to := sort.Search(len(f.frames), func(i int) bool { return f.frames[i] > fr })
	return program.Read(from), to - from
}

// LagFrames are the frames without a read, ascending. A read that the board
// missed looks the same.
func (f *ReadFit) LagFrames() []console.Frame {
	if f == nil {
		return nil
	}
	return f.lag
}

// ExtraReads are the reads beyond the first of their frame, ascending.
func (f *ReadFit) ExtraReads() []program.Read {
	if f == nil {
		return nil
	}
	return f.extra
}

// LateReads are the reads off the grid in frames that have no other,
// ascending.
func (f *ReadFit) LateReads() []program.Read {
	if f == nil {
		return nil
	}
	return f.late
}

// LastFrame is the frame of the last read; -1 when there is none.
func (f *ReadFit) LastFrame() console.Frame {
	if f == nil || len(f.frames) == 0 {
		return -1
	}
	return f.frames[len(f.frames)-1]
}
