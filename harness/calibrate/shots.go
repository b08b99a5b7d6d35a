package calibrate

import (
	"context"
	"errors"
	"image"
	"io"
	"math"
	"slices"
	"time"

	"latchproof/harness/clock"
	"latchproof/harness/judge"
	"latchproof/harness/lockstep"
	"latchproof/specs/console"
	"latchproof/specs/program"
	"latchproof/vision"
	"latchproof/vision/screen"
)

// shot is what stands for one instant: a picture of the file, or one field of it.
type shot struct {
	u    float64 // its instant in frames since the start of frame 0, the latency not taken off
	err  float64 // bound of the error of u, frames
	tick int64   // in the card's row
	f    lockstep.Features
	mean float64 // of luma, quarter levels

	damaged bool // the decoder says so
	same    bool // the same to the last bit as the one before
	flat    bool // without content
	bad     bool // stands for nothing: damaged, repeated, torn, without a signal
}

// take is a run brought to frames and features.
type take struct {
	*record
	events []clock.ReadEvent
	fit    *clock.ReadFit
	line   clock.Line
	clock  *clock.Clock
	shots  []shot
	noise  []noisePair
	waves  waves
	still  map[int]*screen.Screen // kept pictures, by capture index

	parts float64 // from where it parts from the other runs for good, frames; +Inf: nowhere
}

// origin is the latency with which frames are counted while it is not known: none.
var origin = clock.Around(0, 1)

// clocks fits the reads and the pictures of a run.
func (t *take) clocks(p console.Profile, fields judge.Fields, rate float64) error {
	t.events = clock.Group(t.latches, p.BurstGap)
	var err error
	if t.fit, err = clock.FitReads(t.events, p.Rate); err != nil {
		return err
	}
	if t.line, err = clock.FitBoard(t.syncs); err != nil {
		return err
	}
	stamps := fields.Instants(t.stamps)
	in := clock.Input{
		Reads: t.fit, Board: t.line, Stamps: stamps, Nominal: p.Rate, CaptureRate: rate,
		Latency: origin, Fields: fields.Woven(),
	}
	if t.clock, err = clock.Build(in); err != nil {
		return err
	}
	if t.clock.State == clock.Untrusted && rate > 0 {
		in.CaptureRate = 0 // the bench file may be wrong
		if c, err := clock.Build(in); err == nil && c.State != clock.Untrusted {
			t.clock = c
		}
	}
	if t.clock.State == clock.Untrusted {
		return errors.New(t.clock.Why)
	}
	t.place(stamps, p)
	return nil
}

// place gives every shot its place in frames. The clock tells the frame and the
// distance to the nearer end of it; which end that is follows from a straight
// line through the reads, which is good enough for that.
func (t *take) place(stamps []time.Duration, p console.Profile) {
	period := t.period()
	var zero time.Duration // of frame 0, roughly: by the middle of the reads
	var off []float64
	for r := range t.fit.Reads() {
		if f, ok := t.fit.FrameOfRead(program.Read(r)); ok {
			off = append(off, t.line.At(t.events[r].Time).Seconds()-float64(f)*period)
		}
	}
	slices.Sort(off)
	zero = time.Duration(off[len(off)/2] * 1e9)
	t.shots = make([]shot, len(stamps))
	for i, a := range t.clock.Captures {
		low := a.Margin.Seconds() / period
		rough := (a.Instant-zero).Seconds()/period - float64(a.Frame)
		if math.Abs(rough-(1-low)) < math.Abs(rough-low) {
			low = 1 - low
		}
		t.shots[i].u = float64(a.Frame) + low
		t.shots[i].err = (a.Guard - origin.Half()).Seconds() / period
		t.shots[i].tick = a.Tick
	}
}

// period of a frame by the host's clock, seconds.
func (t *take) period() float64 { return t.fit.Period * t.line.Rate }

// look decodes the pictures of the run and brings them to the raster. keep are
// the capture indexes of the pictures that are kept whole.
func (t *take) look(ctx context.Context, p console.Profile, active image.Rectangle, fields judge.Fields, keep map[int]bool) error {
	video, err := vision.OpenVideo(t.video)
	if err != nil {
		return err
	}
	defer video.Close()
	norm := vision.Normalizer{Active: active, W: p.Width, H: p.Height}
	defer norm.Close()
	per := 1
	lines := []vision.Lines{vision.AllLines}
	switch fields {
	case judge.TopFirst:
		per, lines = 2, []vision.Lines{vision.TopLines, vision.BottomLines}
	case judge.BottomFirst:
		per, lines = 2, []vision.Lines{vision.BottomLines, vision.TopLines}
	}
	now, last := new(vision.Picture), new(vision.Picture)
	defer func() { now.Close(); last.Close() }()
	before := make([]*screen.Screen, per) // the last sound one of each field
	var spare *screen.Screen
	t.still = map[int]*screen.Screen{}
	for i := 0; i*per < len(t.shots); i++ {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := video.Read(now); err != nil {
			if errors.Is(err, io.EOF) || errors.Is(err, vision.ErrTruncated) {
				t.shots = t.shots[:i*per]
				return nil
			}
			return err
		}
		same := i > 0 && now.Same(last)
		for f := range per {
			k := i*per + f
			if k >= len(t.shots) {
				break
			}
			s := &t.shots[k]
			s.same, s.damaged = same, now.Damaged() || now.Empty()
			if now.Empty() {
				continue
			}
			if spare == nil {
				spare = screen.New(p.Width, p.Height)
			}
			dst := spare
			if err := norm.Picture(now, lines[f], dst); err != nil {
				if s.damaged {
					continue
				}
				return err
			}
			s.f = lockstep.Extract(dst, nil)
			if now.SharedChroma() && per > 1 {
				s.f.Greyed()
			}
			s.mean, s.flat = level(s.f)
			if prev := before[f]; prev != nil && !same && !s.damaged && !s.flat {
				if k%8 < per {
					t.noise = append(t.noise, measure(prev, dst))
				}
				t.waves.add(prev, dst)
			}
			spare, before[f] = before[f], dst
			if keep[k] {
				t.still[k] = dst.Clone()
			}
		}
		now, last = last, now
	}
	return nil
}

// level is the mean of the luma means, quarter levels, and whether there is
// no content: no two of them are more than 12 levels apart.
func level(f lockstep.Features) (mean float64, flat bool) {
	lo, hi, n := uint16(math.MaxUint16), uint16(0), 0
	for i := 0; i+6 <= len(f); i += 6 {
		for _, v := range f[i : i+4] {
			mean += float64(v)
			lo, hi = min(lo, v), max(hi, v)
			n++
		}
	}
	return mean / float64(max(n, 1)), hi-lo <= 12*4
}
