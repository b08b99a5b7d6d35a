package clock

import (
	"math"
	"math/rand/v2"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/feeder"
	"latchproof/specs/program"
)

var _ = Describe("reads from latch pulses", func() {
	l := func(us int64, p1 uint16, clocks uint8) feeder.Latch {
		return feeder.Latch{Micros: us, P1: p1, Clocks: clocks}
	}
	It("joins pulses closer than the gap, and a chain of them", func() {
		got := Group([]feeder.Latch{
			l(10_000, 1, 8), l(10_400, 1, 8), // one read
			l(26_600, 2, 8), l(27_599, 2, 8), l(28_598, 3, 9), // a chain
			l(43_000, 4, 16), l(44_000, 5, 8), // exactly the gap: two reads
		}, time.Millisecond)
		Expect(got).To(Equal([]ReadEvent{
			{First: 0, Pulses: 2, Time: 10_000, State: program.State{P1: 1}, Clocks: 16, After: []int64{400}},
			{First: 2, Pulses: 3, Time: 26_600, State: program.State{P1: 2}, Clocks: 25, OddClocks: 1, Mixed: true, After: []int64{999, 1998}},
			{First: 5, Pulses: 1, Time: 43_000, State: program.State{P1: 4}, Clocks: 16},
			{First: 6, Pulses: 1, Time: 44_000, State: program.State{P1: 5}, Clocks: 8},
		}))
	})
	It("keeps every pulse apart without a gap, and none out of none", func() {
		Expect(Group(nil, time.Millisecond)).To(BeEmpty())
		Expect(Group([]feeder.Latch{l(5, 0, 8), l(5, 0, 8)}, 0)).To(HaveLen(2))
	})
	It("never joins a pulse to one after it", func() {
		Expect(Group([]feeder.Latch{l(500, 0, 8), l(400, 0, 8)}, time.Millisecond)).To(HaveLen(2))
	})
})

var _ = Describe("the board's clock on the host's", func() {
	// exchanges over a link with the shortest trips given, and on top of them
	// delays that are mostly short.
	exchanges := func(r *rand.Rand, from, there, back, rate, zero float64, n int) (s []feeder.Sync) {
		for range n {
			a, b := there+1e-3*r.Float64(), back+1e-3*r.Float64()
			if r.IntN(10) == 0 {
				b += 30e-3 * r.Float64()
			}
			s = append(s, feeder.Sync{
				Sent:     time.Duration(from * 1e9),
				Micros:   int64(math.Floor((from+a)*1e6/rate + zero)),
				Received: time.Duration((from + a + b) * 1e9),
			})
			from += a + b + 1e-3
		}
		return s
	}

	It("is found within its own bound, inside and outside of the exchanges", func() {
		for seed := range uint64(500) {
			r := rand.New(rand.NewPCG(seed, 1))
			rate := 1 + 200e-6*(r.Float64()-0.5)
			zero := 6e9 * r.Float64()
			start, length := 100*r.Float64(), 600*r.Float64()
			s := exchanges(r, start, 1e-3, 1e-3, rate, zero, 8+r.IntN(24))
			switch r.IntN(3) {
			case 0: // before the run only
			case 1: // before and after
				s = append(s, exchanges(r, start+length, 1e-3, 1e-3, rate, zero, 8+r.IntN(24))...)
			case 2: // all along
				for x := 5.; x < length; x += 5 {
					s = append(s, exchanges(r, start+x, 1e-3, 1e-3, rate, zero, 4)...)
				}
			}
			l, err := FitBoard(s)
			Expect(err).NotTo(HaveOccurred())
			for x := start - 5; x < start+length+5; x += length/20 + 0.1 {
				b := int64(math.Round(x*1e6/rate + zero))
				off := math.Abs(l.At(b).Seconds() - x)
				Expect(off).To(BeNumerically("<=", l.Err(b).Seconds()+2e-6), "seed %d at %v: %+v", seed, x-start, l)
			}
			Expect(l.Residual).To(BeNumerically("<", 1500*time.Microsecond), "seed %d", seed)
			Expect(l.HalfTrip).To(BeNumerically(">=", time.Millisecond))
		}
	})

	It("measures the rate over a long baseline", func() {
		r := rand.New(rand.NewPCG(1, 2))
		rate := 1 - 60e-6
		s := append(exchanges(r, 10, 1e-3, 1e-3, rate, 0, 32), exchanges(r, 610, 1e-3, 1e-3, rate, 0, 32)...)
		l, err := FitBoard(s)
		Expect(err).NotTo(HaveOccurred())
		Expect(l.Rate).To(BeNumerically("~", rate, 0.5e-6))
	})

	It("is shifted by half of what a link is lopsided, and no more", func() {
		r := rand.New(rand.NewPCG(1, 3))
		s := append(exchanges(r, 10, 1e-3, 3e-3, 1, 0, 32), exchanges(r, 310, 1e-3, 3e-3, 1, 0, 32)...)
		l, err := FitBoard(s)
		Expect(err).NotTo(HaveOccurred())
		off := l.At(160e6).Seconds() - 160
		Expect(off).To(BeNumerically("~", 1e-3, 0.2e-3))
		Expect(math.Abs(off)).To(BeNumerically("<=", l.HalfTrip.Seconds()))
	})

	It("measures the rate over a run of a few seconds, so that a board far off is not counted wrong", func() {
		r := rand.New(rand.NewPCG(3, 9))
		for _, ppm := range []float64{-500, 0, 700} {
			rate := 1 + ppm*1e-6
			var s []feeder.Sync
			for _, from := range []float64{10, 13.1} {
				for i := range 32 {
					at := from + float64(i)*2e-3
					there, back := 0.5e-3+0.2e-3*r.Float64(), 0.5e-3+0.2e-3*r.Float64()
					s = append(s, feeder.Sync{
						Sent:     time.Duration((at - there) * 1e9),
						Received: time.Duration((at + back) * 1e9),
						Micros:   int64((at - 9) * 1e6 / rate),
					})
				}
			}
			l, err := FitBoard(s)
			Expect(err).NotTo(HaveOccurred())
			Expect(l.Rate).To(BeNumerically("~", rate, 30e-6))
			for at := 10.0; at < 13.2; at += 0.1 {
				b := int64((at - 9) * 1e6 / rate)
				Expect(l.At(b).Seconds()).To(BeNumerically("~", at, l.Err(b).Seconds()), "%v ppm, at %v s", ppm, at)
				Expect(l.Err(b)).To(BeNumerically("<", 300*time.Microsecond))
			}
		}
	})

	It("takes a single exchange, with half of its trip as the bound", func() {
		l, err := FitBoard([]feeder.Sync{{Sent: time.Second, Received: time.Second + 4*time.Millisecond, Micros: 77}})
		Expect(err).NotTo(HaveOccurred())
		Expect(l.At(77)).To(Equal(time.Second + 2*time.Millisecond))
		Expect(l.Err(77)).To(BeNumerically("~", 2*time.Millisecond, time.Microsecond))
		Expect(l.Err(77 + 10e6)).To(BeNumerically("~", 12*time.Millisecond, 10*time.Microsecond)) // 1000 ppm of 10 s more
	})

	It("refuses what is no exchange, and a clock that runs wild", func() {
		_, err := FitBoard(nil)
		Expect(err).To(MatchError(ErrNoSync))
		_, err = FitBoard([]feeder.Sync{{Sent: 2, Received: 1}})
		Expect(err).To(MatchError("no usable time exchange among 1"))
		r := rand.New(rand.NewPCG(1, 4))
		s := append(exchanges(r, 10, 1e-3, 1e-3, 1.002, 0, 8), exchanges(r, 110, 1e-3, 1e-3, 1.002, 0, 8)...)
		_, err = FitBoard(s)
		Expect(err).To(MatchError(ErrBoardClock))
	})
})
