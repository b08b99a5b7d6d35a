package readtiming_test

import (
	"context"
	"encoding/json"
	"math"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/fixtures/sim"
	"latchproof/harness/clock"
	"latchproof/harness/feeder"
	"latchproof/harness/readtiming"
	"latchproof/specs/console"
	"latchproof/specs/program"
)

// plain is a bench whose game reads once in every frame.
func plain(troubles ...sim.Trouble) sim.Config {
	c := sim.Default()
	c.Console.Lag, c.Console.DoubleReads = false, false
	c.Troubles = troubles
	return c
}

func at(name string, places ...int64) sim.Trouble { return sim.Trouble{Name: name, At: places} }

// play plays n reads on a bench without a card.
func play(ctx context.Context, c sim.Config, n int64) (readtiming.Input, *sim.Truth) {
	GinkgoHelper()
	b, err := sim.New(c, sim.Options{NoCard: true, Pipe: true})
	Expect(err).NotTo(HaveOccurred())
	s, err := b.OpenSession(ctx, 1)
	Expect(err).NotTo(HaveOccurred())
	client := feeder.NewClient(s.Link(), s.Clock(), feeder.Options{Timeout: 10 * time.Second, Silence: 20 * time.Second})
	_, err = client.Hello(ctx)
	Expect(err).NotTo(HaveOccurred())
	profile, ok := console.Builtin("ntsc-8bit")
	Expect(ok).To(BeTrue())
	in := readtiming.Input{Console: profile}
	syncs, err := client.Sync(ctx, 64)
	Expect(err).NotTo(HaveOccurred())
	out, err := client.Play(ctx, feeder.PlayRequest{
		Runs: []program.Run{{State: program.State{P1: 1 << 7}, Count: n}}, Reads: n, BurstGap: profile.BurstGap, LatchActive: profile.LatchActive,
	}, func(l feeder.Latch) { in.Latches = append(in.Latches, l) })
	if err != nil {
		Expect(err).To(MatchError(feeder.ErrDamaged))
	}
	more, err := client.Sync(ctx, 64)
	Expect(err).NotTo(HaveOccurred())
	in.Board, err = clock.FitBoard(append(syncs, more...))
	Expect(err).NotTo(HaveOccurred())
	in.Underruns, in.Service = out.Underruns, out.Service
	Expect(client.Close()).To(Succeed())
	Expect(s.Close()).To(Succeed())
	return in, b.Truth(1)
}

// kinds are the kinds of anomaly with their reads.
func kinds(s readtiming.Study) map[readtiming.Kind][]int64 {
	out := map[readtiming.Kind][]int64{}
	for _, a := range s.Anomalies {
		Expect(a.Text).NotTo(BeEmpty())
		out[a.Kind] = append(out[a.Kind], a.Reads...)
	}
	return out
}

var _ = Describe("a run on the simulated bench", func() {
	It("has rate, jitter and latencies of the bench, and no sentence when nothing is wrong", func(ctx SpecContext) {
		const n = 3000
		in, truth := play(ctx, plain(), n)
		s, err := readtiming.Of(in)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Anomalies).To(BeEmpty())
		Expect(s.Board()).To(BeFalse())
		Expect(s.Reads).To(Equal(int64(n)))
		Expect(s.Frames).To(Equal(int64(n)))
		Expect(s.MeasuredBy).To(Equal(readtiming.ByHost))

		// The console's true mean rate over the run, and the board's view of it.
		mean := (truth.Frames[n-1].Start - truth.Frames[0].Start).Seconds() / (n - 1)
		ppm := (in.Console.Rate.Period()/mean - 1) * 1e6
		Expect(ppm).To(BeNumerically("~", 12, 1.5), "the bench is set to 12 ppm and 0.3 ppm of wander")
		Expect(s.PPM).To(BeNumerically("~", ppm, s.HalfPPM))
		Expect(s.HalfPPM).To(BeNumerically("<", 10))
		in.Board = clock.Line{}
		own, err := readtiming.Of(in)
		Expect(err).NotTo(HaveOccurred())
		Expect(own.MeasuredBy).To(Equal(readtiming.ByBoard))
		// The board runs 35 ppm slow, so it takes the console for 35 ppm faster; wander
		// of 0.3 ppm is not in the half width.
		Expect(own.PPM).To(BeNumerically("~", ppm+35, own.HalfPPM+0.3))

		// The reads' true offsets in their frames.
		var sum, worst float64
		for f := range n {
			off := (truth.Board[f].Pulse.At - truth.Frames[f].Start).Seconds() * 1e6
			sum += off * off
			worst = max(worst, math.Abs(off))
		}
		rms := math.Sqrt(sum / n)
		Expect(rms).To(BeNumerically("~", 15/math.Sqrt(3), 0.4), "evenly spread over 15 us either way")
		Expect(s.JitterRMSUS).To(BeNumerically("~", rms, 0.2))
		// A median of 61 evenly spread reads has a standard error of 15/sqrt(63) = 1.9 us.
		Expect(s.JitterPeakUS).To(And(BeNumerically(">=", worst-1), BeNumerically("<=", worst+4*1.9)))

		// The difference of two evenly spread errors is spread like a tent over 30 us
		// either way, whose quartiles are at 30*(1-sqrt(1/2)) = 8.79 us.
		q := s.Spacing.Quantiles
		Expect(s.Spacing.Count).To(Equal(int64(n - 1)))
		Expect(q.MedianUS).To(BeNumerically("~", 0, 1.5))
		Expect(q.P25US).To(BeNumerically("~", -8.79, 1.5))
		Expect(q.P75US).To(BeNumerically("~", 8.79, 1.5))
		Expect(q.MinUS).To(BeNumerically(">=", -31.5))
		Expect(q.MaxUS).To(BeNumerically("<=", 31.5))

		Expect(s.Service.Records).To(Equal(int64(n)))
		Expect(s.Service.MedianUS).To(BeNumerically("~", 3, 0.1))
		Expect(s.Service.WorstUS).To(And(BeNumerically(">", 3.8), BeNumerically("<", 4)))
		Expect(s.Summary).To(Equal(readtiming.Summary{
			Reads: n, PPM: s.PPM, JitterRMSUS: s.JitterRMSUS, Told: true,
			ServiceMedianUS: s.Service.MedianUS, ServiceWorstUS: s.Service.WorstUS, Share: map[readtiming.Kind]float64{},
		}))
		_, err = json.Marshal(s)
		Expect(err).NotTo(HaveOccurred())
	})

	DescribeTable("names every trouble with its reads", func(ctx SpecContext, trouble sim.Trouble, board bool, want map[readtiming.Kind][]int64) {
		in, _ := play(ctx, plain(trouble), 200)
		s, err := readtiming.Of(in)
		Expect(err).NotTo(HaveOccurred())
		Expect(kinds(s)).To(Equal(want))
		Expect(s.Board()).To(Equal(board))
	},
		Entry("clock edges", at("extra-clock", 12, 40, 77), true, map[readtiming.Kind][]int64{readtiming.ExtraClocks: {12, 40, 77}}),
		Entry("underruns", at("underrun", 50, 120), true, map[readtiming.Kind][]int64{readtiming.Underrun: {50, 120}}),
		Entry("late serves", at("slow-service", 197), true, map[readtiming.Kind][]int64{readtiming.LateServed: {197, 198, 199}}),
		Entry("lost records", at("lost-log", 90), true, map[readtiming.Kind][]int64{readtiming.LostRecords: {90}}),
		// The board's count of reads is one short from a missed read on.
		Entry("a missed read", at("missed-read", 60), false, map[readtiming.Kind][]int64{readtiming.LagFrame: {59}}),
		Entry("lag frames", sim.Trouble{Name: "lag", At: []int64{80}, Strength: 2}, false, map[readtiming.Kind][]int64{readtiming.LagFrame: {79, 79}}),
		Entry("double reads", at("double-reads", 30, 31, 70), false, map[readtiming.Kind][]int64{readtiming.DoubleRead: {30, 31, 70}}),
		Entry("an extra read", at("extra-read", 99), false, map[readtiming.Kind][]int64{readtiming.ExtraRead: {100}, readtiming.NoClocks: {100}}),
	)

	It("gives the late pulses of the truth, however many they are", func(ctx SpecContext) {
		in, truth := play(ctx, plain(sim.Trouble{Name: "slow-service", Strength: 9}), 400)
		s, err := readtiming.Of(in)
		Expect(err).NotTo(HaveOccurred())
		want := []int64{}
		for _, e := range truth.Board {
			if e.Late {
				want = append(want, e.Read)
			}
		}
		Expect(len(want)).To(And(BeNumerically(">", 100), BeNumerically("<", 300)))
		Expect(s.LateServes).To(Equal(want))
		Expect(s.Summary.Share).To(Equal(map[readtiming.Kind]float64{readtiming.LateServed: float64(len(want)) / 400}))
	})

	It("takes a game that always reads twice for one that does", func(ctx SpecContext) {
		in, _ := play(ctx, plain(sim.Trouble{Name: "double-reads"}), 100)
		s, err := readtiming.Of(in)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.DoubleReads).To(HaveLen(100))
		Expect(s.Anomalies).To(BeEmpty())
	})
})
