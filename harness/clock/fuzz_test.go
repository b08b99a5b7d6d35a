package clock

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"latchproof/harness/feeder"
	"latchproof/specs/console"
	"latchproof/specs/program"
)

// FuzzBuild looks for panics, and for pictures that stand for a frame they
// were not given. The data are pairs of a latch time and a stamp: when extra
// is even absolute ones of 8 bytes each, when odd differences of 2 bytes each,
// microseconds.
func FuzzBuild(f *testing.F) {
	f.Add([]byte{}, int64(0), int64(0), int64(0))
	f.Add([]byte{1, 2, 3, 4, 5, 6, 7, 8}, int64(40e6), int64(1e5), int64(3))
	r := rand.New(rand.NewPCG(1, 1))
	t := simulate(r, plain(60))
	var seed []byte
	for i, l := range t.latches {
		seed = binary.LittleEndian.AppendUint64(seed, uint64(l.Micros))
		seed = binary.LittleEndian.AppendUint64(seed, uint64(t.stamps[i]))
	}
	f.Add(seed, int64(40e6), int64(4e5), int64(4))
	seed = nil
	for i := 1; i < len(t.latches); i++ {
		seed = binary.LittleEndian.AppendUint16(seed, uint16(t.latches[i].Micros-t.latches[i-1].Micros))
		seed = binary.LittleEndian.AppendUint16(seed, uint16((t.stamps[i]-t.stamps[i-1])/time.Microsecond))
	}
	f.Add(seed, int64(40e6), int64(4e5), int64(5))
	f.Fuzz(func(t *testing.T, data []byte, lo, width, extra int64) {
		var latches []feeder.Latch
		var stamps []time.Duration
		var syncs []feeder.Sync
		var a, b int64
		for i := 0; len(data) >= 16; i++ {
			if extra%2 == 0 {
				a = int64(binary.LittleEndian.Uint64(data))
				b = int64(binary.LittleEndian.Uint64(data[8:]))
				data = data[16:]
			} else {
				a += int64(binary.LittleEndian.Uint16(data))
				b += 1000 * int64(binary.LittleEndian.Uint16(data[2:]))
				data = data[4:]
			}
			latches = append(latches, feeder.Latch{Micros: a})
			stamps = append(stamps, time.Duration(b))
			if i%3 == 0 {
				syncs = append(syncs, feeder.Sync{Sent: time.Duration(b), Micros: a, Received: time.Duration(b + width)})
			}
		}
		reads := Group(latches, time.Duration(extra))
		fit, _ := FitReads(reads, ntsc)
		line, _ := FitBoard(syncs)
		in := Input{Reads: fit, Board: line, Stamps: stamps, Nominal: ntsc, Latency: Interval{time.Duration(lo), time.Duration(lo + width)}}
		c, err := Build(in)
		use(t, c, err)
		if c != nil {
			c, err = c.Anchor(console.Frame(extra), int(extra))
			use(t, c, err)
		}
		in.Board = Line{Host: time.Duration(lo), Board: width, Rate: 1}
		c, err = Build(in)
		use(t, c, err)
		c, err = AssumedClock(ntsc, stamps, nil)
		use(t, c, err)
	})
}

func use(t *testing.T, c *Clock, err error) {
	if err != nil {
		return
	}
	s := c.Summary()
	if s.State != Measured && s.Why == "" {
		t.Fatalf("%v without a reason", s.State)
	}
	for k, a := range c.Captures {
		if a.State == Sure {
			best, ok := c.CaptureOf(a.Frame)
			if !ok || c.Captures[best].Frame != a.Frame || c.Captures[best].Margin < a.Margin {
				t.Fatalf("picture %d of frame %d: picture %d stands for it (%v)", k, a.Frame, best, ok)
			}
			if a.Margin <= a.Guard || a.Guard < 0 {
				t.Fatalf("picture %d is sure with margin %v and guard %v", k, a.Margin, a.Guard)
			}
		}
	}
	for f := range console.Frame(50) {
		c.FrameState(f)
		c.ReadAt(f)
		c.FrameOfRead(program.Read(f))
		c.Reads().ReadsIn(f)
	}
}

func BenchmarkBuild(b *testing.B) {
	s := plain(36000)
	s.lag = 0
	t := simulate(rand.New(rand.NewPCG(1, 1)), s)
	events := Group(t.latches, t.gap)
	for b.Loop() {
		fit, err := FitReads(events, ntsc)
		if err != nil {
			b.Fatal(err)
		}
		line, err := FitBoard(t.syncs)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := Build(Input{Reads: fit, Board: line, Stamps: t.stamps, Nominal: ntsc, Latency: t.interval}); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkSeek is what it costs to find the place of stamps that come late.
func BenchmarkSeek(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	v := make([]float64, 1200)
	for i := range v {
		u := r.Float64()
		v[i] = 60e-6*r.NormFloat64() + 6e-3*u*u
	}
	slices.Sort(v)
	n := len(v)
	s := binned(v)
	for b.Loop() {
		even := seek(s, v[n/8], v[n-n/8], false, (v[n-1]-v[0])/2, math.Inf(-1))
		seek(s, v[0], v[n*6/10], true, v[n-1]-v[0], even.law.lik)
	}
}

func BenchmarkFitReads(b *testing.B) {
	t := simulate(rand.New(rand.NewPCG(1, 1)), plain(36000))
	events := Group(t.latches, t.gap)
	for b.Loop() {
		if _, err := FitReads(events, ntsc); err != nil {
			b.Fatal(err)
		}
	}
}
