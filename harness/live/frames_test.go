package live

import (
	"math/rand/v2"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/clock"
	"latchproof/harness/feeder"
	"latchproof/specs/console"
	"latchproof/specs/program"
)

var ntsc, _ = console.Builtin("ntsc-8bit")

// oneToOne ties board microseconds to host microseconds.
var oneToOne = clock.Line{Rate: 1}

var _ = Describe("counting frames as reads come", func() {
	period := 1e6 / ntsc.Rate.Hz()

	It("keeps to the console through lag, double reads, strays, jitter and a crystal that is off", func() {
		rng := rand.New(rand.NewPCG(1, 2))
		for _, ppm := range []float64{0, 300, -300} {
			f := newFrames(ntsc, oneToOne)
			p := period * (1 + ppm*1e-6)
			index := int64(0)
			latch := func(at float64) {
				f.latch(feeder.Latch{Index: index, Micros: int64(at)})
				index++
			}
			var of []console.Frame
			for n := range 5000 {
				if n > 0 && rng.IntN(20) == 0 || n > 1000 && n < 1200 {
					continue // lag
				}
				at := 5e6 + float64(n)*p + 40*(rng.Float64()-0.5)
				latch(at)
				of = append(of, console.Frame(n))
				if rng.IntN(10) == 0 {
					latch(at + 400)
				}
				if rng.IntN(100) == 0 { // a read too many in the frame
					latch(at + p/2)
					of = append(of, console.Frame(n))
				}
			}
			for r, want := range of {
				got, ok := f.ofRead(program.Read(r))
				Expect(ok).To(BeTrue())
				Expect(got).To(Equal(want), "read %d, %v ppm", r, ppm)
			}
			_, ok := f.ofRead(program.Read(len(of)))
			Expect(ok).To(BeFalse())
			// Half a frame after the start of the last one.
			x, _ := f.frame(time.Duration((5e6 + 4999.5*p) * 1e3))
			Expect(x).To(BeNumerically("~", 4999.5, 0.02))
		}
	})

	It("knows no read's number after a lost record", func() {
		f := newFrames(ntsc, oneToOne)
		for i, index := range []int64{0, 1, 3, 4} {
			f.latch(feeder.Latch{Index: index, Micros: int64(float64(i) * period)})
		}
		_, ok := f.ofRead(1)
		Expect(ok).To(BeTrue())
		_, ok = f.ofRead(2)
		Expect(ok).To(BeFalse())
		x, _ := f.frame(time.Duration(3.5 * period * 1e3))
		Expect(x).To(BeNumerically("~", 3.5, 0.01), "frames count on")
	})

	It("grows unsure with a board of unknown rate, and follows it by what arrives", func() {
		line := clock.Line{Rate: 1, RateHalf: anyBoard}
		f := newFrames(ntsc, line)
		rng := rand.New(rand.NewPCG(3, 4))
		const slow = 1 - 80e-6 // the board's clock
		for n := range 60 * 100 {
			at := float64(n) * period // by the wall
			micros := int64(at * slow)
			f.latch(feeder.Latch{Index: int64(n), Micros: micros})
			arrived := time.Duration((at + 900 + 5000*rng.Float64()) * 1e3)
			if n < 60 {
				_, doubt := f.frame(arrived)
				Expect(doubt).To(BeNumerically("<=", 101e-6*60), "100 ppm of a second")
			}
			f.drift.arrived(arrived, arrived-line.At(micros))
		}
		x, doubt := f.frame(time.Duration((60*100 - 0.5) * period * 1e3))
		Expect(f.drift.known).To(BeTrue())
		Expect(x).To(BeNumerically("~", 60*100-0.5, doubt))
		Expect(doubt).To(BeNumerically("<", 0.15))
		Expect(f.drift.shift).To(BeNumerically("~", 100*period/1e6*60*80e-6*float64(time.Second), 0.7*float64(time.Millisecond)))
	})
})

var _ = Describe("taking the jitter out of instants", func() {
	It("is nearer to the row than the stamps, and says how near", func() {
		rng := rand.New(rand.NewPCG(5, 6))
		s := steady{period: 1e9 * 1001 / 60000}
		row := func(k int) float64 { return float64(k) * s.period * (1 + 50e-6) }
		beyond, off, raw := 0, 0., 0.
		for k := range 4000 {
			if k%97 < 2 {
				continue // lost
			}
			jitter := 400e3 * rng.NormFloat64()
			at, doubt := s.instant(Buffer{Stamp: time.Duration(1e9 + row(k) + jitter)})
			e := float64(at) - 1e9 - row(k)
			if k > 50 {
				off, raw = off+e*e, raw+jitter*jitter
				if time.Duration(max(e, -e)) > doubt {
					beyond++
				}
				Expect(doubt).To(BeNumerically("<", 500*time.Microsecond))
			}
		}
		Expect(off).To(BeNumerically("<", raw/10))
		// Three standard deviations and a tenth of a millisecond: under 0.3 %.
		Expect(beyond).To(BeNumerically("<=", 12))
	})

	It("lays a stream's own times on the host's clock by the picture that is late the least", func() {
		s := steady{}
		flags := HasMedia
		late := []time.Duration{30, 9, 5, 7, 5}
		for k, d := range late {
			media := time.Duration(k) * 16 * time.Millisecond
			at, _ := s.instant(Buffer{Media: media, Stamp: time.Second + media + d*time.Millisecond, Flags: flags})
			least := min(late[0], late[min(k, 1)], late[min(k, 2)])
			Expect(at).To(Equal(time.Second + media + least*time.Millisecond))
		}
	})
})
