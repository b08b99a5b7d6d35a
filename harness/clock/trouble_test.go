package clock

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/feeder"
	"latchproof/specs/console"
	"latchproof/specs/program"
)

// plain is a run with mild trouble, for the cases that add one of their own.
func plain(frames int) settings {
	return settings{
		frames: frames, ppm: 40, wander: 1, wanderPeriod: 200, jitter: 0.2e-3, lag: 0.05, double: 0.1,
		boardPPM: 30, latency: 0.045, half: 0.4e-3, rate: 60000. / 1001, cardPPM: 10, stampJitter: 1e-3, syncs: 16,
	}
}

func regular(n int, periodUS float64) []ReadEvent {
	e := make([]ReadEvent, n)
	for i := range e {
		e[i] = ReadEvent{First: i, Pulses: 1, Time: 1000 + int64(math.Round(float64(i)*periodUS))}
	}
	return e
}

var _ = Describe("a clock that cannot be", func() {
	DescribeTable("read logs that fit nothing",
		func(reads []ReadEvent, nominal console.Rate, target error, text string) {
			fit, err := FitReads(reads, nominal)
			Expect(err).To(MatchError(target))
			Expect(err).To(MatchError(text))
			Expect(fit.Err()).To(Equal(err))
			_, ok := fit.FrameOfRead(0)
			Expect(ok).To(BeFalse())
			_, ok = fit.ReadAt(0)
			Expect(ok).To(BeFalse())
			Expect(fit.LastFrame()).To(BeEquivalentTo(-1))
			if nominal == ntsc {
				t := simulate(rand.New(rand.NewPCG(1, 1)), plain(100))
				c, err := Build(Input{Reads: fit, Board: Line{Rate: 1}, Stamps: t.stamps, Nominal: nominal, Latency: t.interval})
				Expect(err).NotTo(HaveOccurred())
				Expect(c.State).To(Equal(Untrusted))
				Expect(c.Why).To(Equal(text))
				expectNothing(c)
			}
		},
		Entry("none", nil, ntsc, ErrNoReads, "no reads"),
		Entry("29 reads", regular(29, 16639.263), ntsc, ErrFewReads, "too few reads: 29, and 30 are needed"),
		Entry("another standard", regular(500, 19997.209), ntsc, ErrOffNominal,
			"read log: frame rate is far from the profile's: 50.0070 Hz, and the profile says 60.0988 Hz"),
		Entry("2100 parts per million off", regular(500, 16639.263/(1+2100e-6)), ntsc, ErrOffNominal,
			"read log: frame rate is far from the profile's: 60.2250 Hz, and the profile says 60.0988 Hz"),
		Entry("going back", append(regular(40, 16639.263), ReadEvent{Time: 5}), ntsc, ErrNotAscending,
			"read log: times do not ascend: read 39 at 649931 us, read 40 at 5 us"),
		Entry("twice the same", append(regular(1, 1), regular(40, 16639.263)...), ntsc, ErrNotAscending,
			"read log: times do not ascend: read 0 at 1000 us, read 1 at 1000 us"),
		Entry("no nominal rate", regular(500, 16639.263), console.Rate{}, ErrInput, "bad clock input: nominal frame rate 0/0"),
		Entry("a pause of hours", append(regular(60, 16639.263), shifted(regular(60, 16639.263), 4*3600e6)...), ntsc, ErrBroken,
			"read log: the frame grid breaks: nothing for 14399 s, too long to count through"),
	)

	It("accepts a rate 1900 parts per million off, and the 29 reads with one more", func() {
		fit, err := FitReads(regular(500, 16639.263/(1+1900e-6)), ntsc)
		Expect(err).NotTo(HaveOccurred())
		Expect(fit.PPM).To(BeNumerically("~", 1900, 1))
		_, err = FitReads(regular(30, 16639.263), ntsc)
		Expect(err).NotTo(HaveOccurred())
	})

	It("finds no grid in reads at random moments", func() {
		for seed := range uint64(50) {
			r := rand.New(rand.NewPCG(seed, 2))
			reads := make([]ReadEvent, 400)
			at := 0.0
			for i := range reads {
				at += 1000 + 40e3*r.Float64()
				reads[i] = ReadEvent{First: i, Pulses: 1, Time: int64(at)}
			}
			_, err := FitReads(reads, ntsc)
			Expect(err).To(Or(MatchError(ErrUnsteady), MatchError(ErrOffNominal), MatchError(ErrBroken)), "seed %d", seed)
		}
	})

	t := simulate(rand.New(rand.NewPCG(3, 3)), plain(300))
	DescribeTable("inputs that tie nothing together",
		func(change func(*Input), text string) {
			in, err := t.input()
			Expect(err).NotTo(HaveOccurred())
			change(&in)
			c, err := Build(in)
			Expect(err).NotTo(HaveOccurred())
			Expect(c.State).To(Equal(Untrusted))
			Expect(c.Why).To(HavePrefix(text))
			Expect(c.Captures).To(HaveLen(len(in.Stamps)))
			expectNothing(c)
		},
		Entry("no read log", func(in *Input) { in.Reads = nil }, "there is no read log"),
		Entry("a read log never fitted", func(in *Input) { in.Reads = &ReadFit{} }, "the read log was not fitted"),
		Entry("no pictures", func(in *Input) { in.Stamps = nil }, "pictures: the capture is empty"),
		Entry("seven pictures", func(in *Input) { in.Stamps = in.Stamps[:7] }, "pictures: stamps: only 7, and 8 are needed"),
		Entry("no latency", func(in *Input) { in.Latency = Interval{} }, "the latency of the card is unknown: no calibration and no anchor"),
		Entry("no line", func(in *Input) { in.Board = Line{} }, "nothing relates the board's clock to the pictures"),
		Entry("equal stamps", func(in *Input) { in.Stamps, in.CaptureRate = make([]time.Duration, 100), 0 }, "pictures: stamps: reads do not keep"),
		Entry("stamps that go back", func(in *Input) {
			in.Stamps = append([]time.Duration{time.Hour}, in.Stamps...)
		}, "pictures: stamps: times do not ascend: picture 0 at 1h0m0s, picture 1 at"),
		Entry("another card", func(in *Input) { in.CaptureRate = 50 }, "pictures: stamps: pictures come at 59.94"),
		Entry("a latency known to a frame", func(in *Input) { in.Latency = Interval{1, 17 * time.Millisecond} },
			"a picture cannot be told from its neighbours: the times are uncertain by "),
	)

	DescribeTable("inputs that contradict themselves",
		func(change func(*Input), text string) {
			in, err := t.input()
			Expect(err).NotTo(HaveOccurred())
			change(&in)
			_, err = Build(in)
			Expect(err).To(MatchError(ErrInput))
			Expect(err).To(MatchError("bad clock input: " + text))
		},
		Entry("stale marks", func(in *Input) { in.Stale = make([]bool, 3); in.Stamps = in.Stamps[:9] }, "3 stale marks for 9 pictures"),
		Entry("latency", func(in *Input) { in.Latency = Interval{2, 1} }, "latency from 2ns to 1ns"),
		Entry("anchor picture", func(in *Input) { in.Stamps = in.Stamps[:9]; in.Anchor = &Anchor{Frame: 0, Capture: 9} }, "anchor picture 9 of 9"),
		Entry("anchor frame", func(in *Input) { in.Anchor = &Anchor{Frame: -1, Capture: 0} }, "anchor frame -1"),
		Entry("nominal", func(in *Input) { in.Nominal.Den = 0 }, "nominal frame rate 39375000/0"),
		Entry("capture rate", func(in *Input) { in.CaptureRate = math.NaN() }, "capture rate NaN Hz"),
		Entry("board", func(in *Input) { in.Board.Rate = 2 }, "board rate 2, half width "+fmt.Sprint(mustLine(t).RateHalf)+", residual "+mustLine(t).Residual.String()),
	)
})

func mustLine(t truth) Line {
	l, err := FitBoard(t.syncs)
	if err != nil {
		panic(err)
	}
	return l
}

func shifted(e []ReadEvent, us int64) []ReadEvent {
	for i := range e {
		e[i].Time += us
	}
	return e
}

// expectNothing checks that a clock gives no picture a frame.
func expectNothing(c *Clock) {
	GinkgoHelper()
	for k, a := range c.Captures {
		Expect(a.State).NotTo(Equal(Sure), "picture %d", k)
	}
	for f := range console.Frame(400) {
		_, ok := c.CaptureOf(f)
		Expect(ok).To(BeFalse())
		Expect(c.FrameState(f)).To(Or(Equal(Undecided), Equal(OutOfRange)))
	}
	s := c.Summary()
	Expect(s.State).To(Equal(Untrusted))
	Expect(s.Sure + s.Seen + s.Unseen).To(BeZero())
}

var _ = Describe("a reset in the middle", func() {
	It("is found, or the reads fell back on the old grid", func() {
		const runs = 300
		missed := 0
		for seed := range uint64(runs) {
			r := rand.New(rand.NewPCG(seed, 5))
			s := plain(300 + r.IntN(2000))
			t := simulate(r, s)
			cut := 40 + r.IntN(len(t.latches)-80)
			// Held for 0.2 s and some more to start; then the same reads at
			// another phase.
			by := int64(0.2e6 + 1e6*r.Float64())
			for i := cut; i < len(t.latches); i++ {
				t.latches[i].Micros += by
			}
			fit, err := FitReads(Group(t.latches, t.gap), ntsc)
			if err != nil {
				Expect(err).To(Or(MatchError(ErrBroken), MatchError(ErrUnsteady)), "seed %d", seed)
				continue
			}
			missed++
			period := 1e6 / ntsc.Hz()
			moved := math.Abs(math.Remainder(float64(by), period))
			Expect(moved).To(BeNumerically("<", 500), "seed %d: moved by %.0f us and believed", seed, moved)
			Expect(fit.Err()).To(BeNil())
		}
		// 500 us either way of 16639 us is 6 %.
		Expect(missed).To(BeNumerically("<", runs*10/100))
	})

	It("says so", func() {
		e := append(regular(600, 16639.263), shifted(regular(600, 16639.263), 600*16639+500_000)...)
		_, err := FitReads(e, ntsc)
		Expect(err).To(MatchError("read log: the frame grid breaks: after a pause of 0.52 s, 10.5 s from the start, " +
			"it goes on 0.66 ms off the grid (a reset, or another moment of reading)"))
	})
})

var _ = Describe("troubles one by one", func() {
	check := func(seed uint64, s settings, change func(*rand.Rand, *truth)) *Clock {
		GinkgoHelper()
		r := rand.New(rand.NewPCG(seed, 7))
		t := simulate(r, s)
		if change != nil {
			change(r, &t)
		}
		in, err := t.input()
		Expect(err).NotTo(HaveOccurred())
		c, err := Build(in)
		Expect(err).NotTo(HaveOccurred())
		about := fmt.Sprintf("seed %d", seed)
		checkPictures(t, c, about)
		checkFrames(t, c, about)
		return c
	}

	It("pictures late by most of a tick, often with the next one lost, are not taken for the next one's frame", func() {
		for seed := range uint64(40) {
			c := check(seed, plain(1500), func(r *rand.Rand, t *truth) {
				for k := 1; k+2 < len(t.stamps); k++ {
					if r.IntN(100) == 0 {
						t.stamps[k] += time.Duration(5e6 + 9e6*r.Float64())
						if r.IntN(2) == 0 {
							t.stamps = append(t.stamps[:k+1], t.stamps[k+2:]...)
							t.taken = append(t.taken[:k+1], t.taken[k+2:]...)
						}
						k += 2
					}
				}
			})
			Expect(c.State).To(Equal(Measured))
		}
	})

	It("a game that moves its reads by a millisecond keeps its frames, with a wider guard", func() {
		for seed := range uint64(20) {
			before := check(seed, plain(3000), nil)
			after := check(seed, plain(3000), func(r *rand.Rand, t *truth) {
				at := t.latches[len(t.latches)/2].Micros
				for i := range t.latches {
					if t.latches[i].Micros >= at {
						t.latches[i].Micros += 1000
					}
				}
			})
			Expect(after.State).To(Equal(Measured))
			Expect(after.Summary().Guard).To(BeNumerically(">", before.Summary().Guard+900))
		}
	})

	It("a game that reads in every second frame", func() {
		for seed := range uint64(20) {
			s := plain(2000)
			s.lag, s.double = 0, 0
			c := check(seed, s, func(r *rand.Rand, t *truth) {
				var every []feeder.Latch
				var logged []int
				var spurious []bool
				for i, l := range t.latches {
					if t.logged[i]%2 == 0 {
						l.Index = int64(len(every))
						every, logged, spurious = append(every, l), append(logged, t.logged[i]), append(spurious, false)
					}
				}
				t.latches, t.logged, t.spurious = every, logged, spurious
			})
			Expect(c.State).To(Equal(Measured))
			f, ok := c.FrameOfRead(program.Read(500))
			Expect(ok).To(BeTrue())
			Expect(f).To(BeEquivalentTo(1000))
		}
	})

	It("a read too many in a fifth of the frames", func() {
		for seed := range uint64(20) {
			s := plain(2000)
			s.extra = 0.2
			Expect(check(seed, s, nil).State).To(Equal(Measured))
		}
	})

	It("a run whose pictures span only one second", func() {
		for seed := range uint64(100) {
			c := check(seed, plain(300), func(r *rand.Rand, t *truth) {
				k := r.IntN(len(t.stamps) - 60)
				t.stamps, t.taken = t.stamps[k:k+60], t.taken[k:k+60]
			})
			Expect(c.State).To(Equal(Measured))
		}
	})

	It("exchanges before the run only: the doubt about the board's rate grows until nothing is sure", func() {
		s := plain(8000)
		s.boardPPM = 90
		c := check(1, s, func(r *rand.Rand, t *truth) { t.syncs = t.syncs[:s.syncs] })
		Expect(c.State).To(Equal(Measured))
		_, ok := c.CaptureOf(100)
		Expect(ok).To(BeTrue())
		Expect(c.Captures[len(c.Captures)-100].Guard).To(BeNumerically(">", 8*time.Millisecond))
	})

	It("a first read that the board missed is found by the anchor", func() {
		found := 0
		for seed := range uint64(100) {
			r := rand.New(rand.NewPCG(seed, 9))
			s := plain(400)
			s.lag, s.double = 0, 0
			t := simulate(r, s)
			n := 50 + r.IntN(300)
			k := t.firstOf(n)
			t.latches = t.latches[1:]
			in, err := t.input()
			Expect(err).NotTo(HaveOccurred())
			c, err := Build(in)
			Expect(err).NotTo(HaveOccurred())
			c, err = c.Anchor(console.Frame(n), k)
			Expect(err).NotTo(HaveOccurred())
			if c.State == Untrusted {
				found++
				Expect(c.Why).To(HavePrefix(fmt.Sprintf("the anchor contradicts the read log and the calibration: picture %d is the first to show frame %d, "+
					"but it was taken -", k, n)))
				expectNothing(c)
				continue
			}
			// The frame before is barely told from this one by one picture: it
			// cannot be told only when a picture was taken right at the boundary.
			Expect(t.margin(k)).To(BeNumerically("<", 3*c.Captures[k].Guard.Seconds()), "seed %d", seed)
		}
		Expect(found).To(BeNumerically(">", 70))
	})

	It("an anchor narrows the latency and never loses the true one", func() {
		for seed := range uint64(100) {
			r := rand.New(rand.NewPCG(seed, 10))
			s := plain(400)
			s.half = 4e-3
			t := simulate(r, s)
			in, err := t.input()
			Expect(err).NotTo(HaveOccurred())
			wide, err := Build(in)
			Expect(err).NotTo(HaveOccurred())
			n := 20 + r.IntN(300)
			c, err := wide.Anchor(console.Frame(n), t.firstOf(n))
			Expect(err).NotTo(HaveOccurred())
			Expect(c.State).To(Equal(Measured))
			Expect(c.Latency.Lo).To(BeNumerically(">=", wide.Latency.Lo))
			Expect(c.Latency.Hi).To(BeNumerically("<=", wide.Latency.Hi))
			Expect(c.Latency.Lo.Seconds()).To(BeNumerically("<=", t.latency+1e-3))
			Expect(c.Latency.Hi.Seconds()).To(BeNumerically(">=", t.latency-1e-3))
			Expect(c.Summary().Unsure).To(BeNumerically("<=", wide.Summary().Unsure))
			checkPictures(t, c, fmt.Sprint("seed ", seed))
		}
	})

	It("stale pictures are never anybody's frame", func() {
		r := rand.New(rand.NewPCG(4, 4))
		t := simulate(r, plain(500))
		in, err := t.input()
		Expect(err).NotTo(HaveOccurred())
		c, err := Build(in)
		Expect(err).NotTo(HaveOccurred())
		stale := make([]bool, len(t.stamps))
		marked := 0
		for f := console.Frame(10); f < 490; f += 7 {
			if k, ok := c.CaptureOf(f); ok {
				stale[k] = true
				marked++
			}
		}
		Expect(marked).To(BeNumerically(">", 40))
		c, err = c.WithStale(stale)
		Expect(err).NotTo(HaveOccurred())
		for f := console.Frame(10); f < 490; f += 7 {
			Expect(c.FrameState(f)).NotTo(Equal(Seen))
		}
		Expect(c.Summary().Stale).To(Equal(marked))
		Expect(c.Summary().Unseen).To(BeNumerically(">", 30))
	})

	It("a fast card: the picture with the largest margin stands for the frame", func() {
		r := rand.New(rand.NewPCG(6, 6))
		s := plain(500)
		s.rate = 240
		s.stampJitter = 0.3e-3
		t := simulate(r, s)
		in, err := t.input()
		Expect(err).NotTo(HaveOccurred())
		c, err := Build(in)
		Expect(err).NotTo(HaveOccurred())
		best := map[console.Frame]int{}
		for k, a := range c.Captures {
			if b, ok := best[a.Frame]; a.State == Sure && (!ok || a.Margin > c.Captures[b].Margin) {
				best[a.Frame] = k
			}
		}
		Expect(len(best)).To(BeNumerically(">=", 500))
		for f, k := range best {
			got, ok := c.CaptureOf(f)
			Expect(ok).To(BeTrue())
			Expect(got).To(Equal(k))
			Expect(t.frame(k)).To(BeEquivalentTo(f))
		}
	})

	It("the summary counts what there is", func() {
		r := rand.New(rand.NewPCG(8, 8))
		s := plain(2000)
		s.extra, s.missed, s.drop, s.ppm = 0.01, 0.01, 0.01, -150
		t := simulate(r, s)
		in, err := t.input()
		Expect(err).NotTo(HaveOccurred())
		c, err := Build(in)
		Expect(err).NotTo(HaveOccurred())
		got := c.Summary()
		Expect(got.State).To(Equal(Measured))
		Expect(got.PPM).To(BeNumerically("~", -150, 2))
		Expect(got.FrameHz).To(BeNumerically("~", ntsc.Hz()*(1-150e-6), 2e-4))
		Expect(got.CaptureHz).To(BeNumerically("~", 60000./1001*(1+10e-6), 2e-4))
		Expect(got.ReadJitter).To(BeNumerically("~", 200/math.Sqrt(3), 10)) // RMS of an even spread
		Expect(got.StampJitter).To(BeNumerically("~", 1000/math.Sqrt(3), 40))
		Expect(got.Reads).To(Equal(len(t.logged)))
		Expect(got.LostPictures).To(Equal(t.lost))
		Expect(got.Captures).To(Equal(len(t.stamps)))
		Expect(got.Sure + got.Unsure + got.Outside + got.Stale).To(Equal(got.Captures))
		first, last, ok := c.Frames()
		Expect(ok).To(BeTrue())
		Expect(first).To(BeZero())
		Expect(int64(last)).To(Equal(got.LastFrame))
		Expect(got.Seen + got.Unseen + got.Undecided).To(Equal(int(last) + 1))
		Expect(c.FrameState(last + 100)).To(Equal(OutOfRange))
		Expect(c.FrameState(-1)).To(Equal(OutOfRange))
		Expect(c.String()).To(Equal("measured"))
	})
})

var _ = Describe("an assumed clock", func() {
	It("counts nominal frames from the anchor and says what that is worth", func() {
		const latency, n = 0.05, 120
		var t truth
		t.latency = latency
		for i := range 5000 {
			t.start = append(t.start, 7+float64(i)*ntsc.Period())
		}
		for k := range 3000 {
			x := 6.9 + float64(k)*1001/60000
			t.taken = append(t.taken, x)
			t.stamps = append(t.stamps, time.Duration(x*1e9))
		}
		k := t.firstOf(n)
		c, err := AssumedClock(ntsc, t.stamps, &Anchor{Frame: n, Capture: k})
		Expect(err).NotTo(HaveOccurred())
		Expect(c.State).To(Equal(Assumed))
		Expect(c.Why).To(Equal("no read log: frames were counted at the nominal rate from the anchor; " +
			"a crystal 50 parts per million off is a whole frame off 333 s from there; " +
			"where in a frame the pictures lie is uncertain by 8.3 ms either way, about half a frame"))
		Expect(c.Captures[k].Frame).To(BeEquivalentTo(n))
		Expect(c.Captures[k-1].Frame).To(BeNumerically("<", n))
		// Half a frame uncertain: the frame is the true one or a neighbour.
		sure := 0
		for k, a := range c.Captures {
			if a.State == Sure {
				sure++
				Expect(math.Abs(float64(int(a.Frame) - t.frame(k)))).To(BeNumerically("<=", 1))
			}
		}
		Expect(sure).To(BeNumerically(">", 2900))
		_, ok := c.FrameOfRead(0)
		Expect(ok).To(BeFalse())
		_, ok = c.ReadAt(0)
		Expect(ok).To(BeFalse())
		again, err := c.Anchor(n+1, k)
		Expect(err).NotTo(HaveOccurred())
		Expect(again.State).To(Equal(Assumed))
		Expect(again.Captures[k].Frame).To(BeEquivalentTo(n + 1))
	})

	It("takes the first picture for frame 0 when there is no anchor", func() {
		stamps := make([]time.Duration, 600)
		for k := range stamps {
			stamps[k] = time.Duration(float64(k) * 1e9 / 60)
		}
		c, err := AssumedClock(ntsc, stamps, nil)
		Expect(err).NotTo(HaveOccurred())
		Expect(c.State).To(Equal(Assumed))
		Expect(c.Why).To(ContainSubstring("from the first picture, taken to be of frame 0"))
		Expect(c.Captures[0].Frame).To(BeZero())
		Expect(c.Captures[0].State).To(Equal(Sure))
		_, last, ok := c.Frames()
		Expect(ok).To(BeTrue())
		Expect(last).To(BeEquivalentTo(600)) // 599 pictures at 60.0988/60 frames each, and half a frame
	})

	It("ties a read log without exchanges to the pictures by the anchor", func() {
		for seed := range uint64(50) {
			r := rand.New(rand.NewPCG(seed, 12))
			t := simulate(r, plain(600))
			in, err := t.input()
			Expect(err).NotTo(HaveOccurred())
			in.Board = Line{}
			n := 20 + r.IntN(500)
			k := t.firstOf(n)
			in.Anchor = &Anchor{Frame: console.Frame(n), Capture: k}
			c, err := Build(in)
			Expect(err).NotTo(HaveOccurred())
			Expect(c.State).To(Equal(Assumed))
			Expect(c.Why).To(HavePrefix("no time exchange: the board's clock was tied to the pictures by the anchor alone"))
			Expect(c.Why).To(ContainSubstring("about half a frame"))
			for k, a := range c.Captures {
				if a.State == Sure && math.Abs(float64(int(a.Frame)-t.frame(k))) > 1 {
					Fail(fmt.Sprintf("seed %d: picture %d of frame %d labelled %d", seed, k, t.frame(k), a.Frame))
				}
			}
		}
	})

	It("names a calibration that is missing", func() {
		t := simulate(rand.New(rand.NewPCG(2, 2)), plain(300))
		in, err := t.input()
		Expect(err).NotTo(HaveOccurred())
		in.Latency = Interval{}
		in.Anchor = &Anchor{Frame: 100, Capture: t.firstOf(100)}
		c, err := Build(in)
		Expect(err).NotTo(HaveOccurred())
		Expect(c.State).To(Equal(Assumed))
		Expect(strings.Contains(c.Why, "never calibrated")).To(BeTrue())
	})

	It("refuses what is no capture", func() {
		c, err := AssumedClock(ntsc, nil, nil)
		Expect(err).NotTo(HaveOccurred())
		Expect(c.String()).To(Equal("untrusted: pictures: the capture is empty"))
		_, err = AssumedClock(console.Rate{}, nil, nil)
		Expect(err).To(MatchError(ErrInput))
	})
})

var _ = Describe("a log with a lost record", func() {
	It("keeps the grid, and the number of no read after the gap", func() {
		r := rand.New(rand.NewPCG(3, 3))
		s := plain(400)
		s.double = 0
		t := simulate(r, s)
		lost := 150
		latches := append(append([]feeder.Latch{}, t.latches[:lost]...), t.latches[lost+1:]...)
		events := Group(latches, t.gap)
		Expect(events[lost].Lost).To(BeEquivalentTo(1))
		fit, err := FitReads(events, ntsc)
		Expect(err).NotTo(HaveOccurred())
		whole, gap := fit.Whole()
		Expect(gap).To(BeTrue())
		Expect(whole).To(Equal(lost))
		f, ok := fit.FrameOfRead(program.Read(lost - 1))
		Expect(ok).To(BeTrue())
		Expect(int(f)).To(Equal(t.logged[lost-1]))
		_, ok = fit.FrameOfRead(program.Read(lost))
		Expect(ok).To(BeFalse())
		_, ok = fit.ReadAt(console.Frame(t.logged[lost-1]))
		Expect(ok).To(BeTrue())
		_, ok = fit.ReadAt(console.Frame(t.logged[lost+1]))
		Expect(ok).To(BeFalse())
		Expect(int(fit.LastFrame())).To(Equal(t.logged[len(t.logged)-1]))
		Expect(fit.LagFrames()).To(ContainElement(console.Frame(t.logged[lost])))

		By("a whole log")
		fit, err = FitReads(Group(t.latches, t.gap), ntsc)
		Expect(err).NotTo(HaveOccurred())
		whole, gap = fit.Whole()
		Expect(gap).To(BeFalse())
		Expect(whole).To(Equal(len(t.logged)))
	})
})
