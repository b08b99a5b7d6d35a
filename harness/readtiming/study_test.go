package readtiming_test

import (
	"bytes"
	"encoding/json"
	"math"
	"math/rand/v2"
	"strings"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/clock"
	"latchproof/harness/feeder"
	"latchproof/harness/readtiming"
	"latchproof/specs/console"
)

// row is a log of n reads on a perfect grid, cut to whole microseconds.
func row(n int) readtiming.Input {
	profile, ok := console.Builtin("ntsc-8bit")
	Expect(ok).To(BeTrue())
	in := readtiming.Input{Console: profile}
	for i := range n {
		in.Latches = append(in.Latches, feeder.Latch{Index: int64(i), Micros: 1000 + int64(float64(i)*profile.Rate.Period()*1e6), Clocks: 8})
	}
	return in
}

func study(in readtiming.Input) readtiming.Study {
	GinkgoHelper()
	s, err := readtiming.Of(in)
	Expect(err).NotTo(HaveOccurred())
	return s
}

func text(s readtiming.Study, k readtiming.Kind) string {
	GinkgoHelper()
	for _, a := range s.Anomalies {
		if a.Kind == k {
			return a.Text
		}
	}
	Fail("no " + string(k))
	return ""
}

var _ = Describe("a study", func() {
	It("has the peak of one read that is off by 100 us", func() {
		in := row(400)
		in.Latches[200].Micros += 100
		s := study(in)
		Expect(s.JitterPeakUS).To(BeNumerically("~", 100, 1.5))
		Expect(s.Spacing.Quantiles.MaxUS).To(BeNumerically("~", 100, 1.5))
		Expect(s.Spacing.Quantiles.MinUS).To(BeNumerically("~", -100, 1.5))
	})

	It("has bins as Freedman and Diaconis say, in whole microseconds, that hold everything", func() {
		// The difference of two errors evenly spread over 15 us either way has an IQR
		// of 60*(1-sqrt(1/2)) = 17.57 us. For n = 1000 the width is 2*17.57/10 = 3.51 us,
		// for 8000 it is 2*17.57/20 = 1.76 us.
		for n, width := range map[int]float64{1000: 4, 8000: 2} {
			in := row(n + 1)
			random := rand.New(rand.NewPCG(1, 2))
			for i := range in.Latches {
				in.Latches[i].Micros += random.Int64N(31)
			}
			s := study(in)
			Expect(s.Spacing.Count).To(Equal(int64(n)))
			Expect(s.Spacing.BinUS).To(Equal(width))
			sum := s.Spacing.Below + s.Spacing.Above
			for _, b := range s.Spacing.Bins {
				sum += b.Count
				Expect(b.ToUS - b.FromUS).To(Equal(s.Spacing.BinUS))
				Expect(math.Mod(b.FromUS, s.Spacing.BinUS)).To(BeZero())
			}
			Expect(sum).To(Equal(s.Spacing.Count))
		}
	})

	It("has no more bins than it may, and counts what is farther out", func() {
		in := row(400)
		in.Latches[200].Micros += 100
		s := study(in)
		Expect(s.Spacing.BinUS).To(Equal(1.0))
		Expect(len(s.Spacing.Bins)).To(BeNumerically("<=", readtiming.MaxBins))
		Expect(s.Spacing.Below).To(Equal(int64(1)))
		Expect(s.Spacing.Above).To(Equal(int64(1)))
	})

	It("says what clock pulses were counted, on which port, and how often", func() {
		in := row(60)
		for _, i := range []int{12, 40, 57} {
			in.Latches[i].Clocks = 9
		}
		in.Latches[20].Clocks2 = 19
		in.Latches[21].Clocks = 7
		in.Latches[22].Clocks = 255
		s := study(in)
		Expect(s.OddClocks).To(ContainElement(readtiming.OddClock{Read: 20, Latch: 20, Port: 2, Count: 19, Want: 16}))
		var texts []string
		for _, a := range s.Anomalies {
			Expect(a.Kind).To(Equal(readtiming.ExtraClocks))
			texts = append(texts, a.Text)
		}
		Expect(texts).To(Equal([]string{
			"1 read had 7 clock pulses instead of 8 (read 21): clock edges were missed, or far too many came; look at the level and the slope of the clock line",
			"3 reads had 9 clock pulses instead of 8 (reads 12, 40, 57): a clock edge too many came down the wire; look at ringing on the clock line and the pull-up",
			"1 read had 19 clock pulses instead of 16 (read 20): 3 clock edges too many came down the wire; look at ringing on the clock line and the pull-up",
			"1 read had 255 or more clock pulses instead of 256 (read 22): clock edges were missed, or far too many came; look at the level and the slope of the clock line",
		}))
		Expect(s.Summary.Share[readtiming.ExtraClocks]).To(BeNumerically("~", 6.0/60, 1e-12))
	})

	It("names stretches as such, and not more than eight", func() {
		in := row(100)
		for i := range 40 {
			in.Latches[2*i].Clocks = 9
		}
		for i := 90; i < 100; i++ {
			in.Latches[i].Clocks = 10
		}
		s := study(in)
		Expect(s.Anomalies[0].Text).To(ContainSubstring("(reads 0, 2, 4, 6, 8, 10, 12, 14, and 32 more)"))
		Expect(s.Anomalies[1].Text).To(ContainSubstring("(reads 90 to 99)"))
	})

	It("does not take lost records for lag frames, and says which are lost, also at the start", func() {
		in := row(100)
		in.Latches = append(in.Latches[3:40:40], in.Latches[44:]...)
		s := study(in)
		Expect(s.LagFrames).To(BeEmpty())
		Expect(s.Lost).To(Equal([]readtiming.Gap{{From: 0, To: 2, Read: 0}, {From: 40, To: 43, Read: 37}}))
		Expect(text(s, readtiming.LostRecords)).To(HavePrefix("7 log records never arrived (latch pulses 0 to 2, 40 to 43, before read 0 as the log counts)"))
		Expect(s.Summary.Share[readtiming.LostRecords]).To(BeNumerically("~", 0.07, 1e-12))
	})

	It("says which service records are missing, and which were late, and no more than is known", func() {
		in := row(60)
		for i := range 60 {
			in.Service = append(in.Service, feeder.Service{Index: int64(i), Latency: 3 * time.Microsecond})
		}
		in.Service[30] = feeder.Service{Index: 30, Latency: feeder.MaxServiceLatency, Late: true}
		in.Service = append(in.Service[:10], in.Service[13:]...)
		s := study(in)
		Expect(s.Service.Missing).To(Equal([]readtiming.Gap{{From: 10, To: 12, Read: 10}}))
		Expect(s.Service.OrMore).To(BeTrue())
		Expect(s.Service.Late).To(Equal([]readtiming.LateServe{{Read: 30, Latch: 30, LatencyUS: 2047.937}}))
		Expect(s.Service.MedianUS).To(Equal(3.0))
		Expect(text(s, readtiming.ServiceGap)).To(HavePrefix("3 service records never arrived (latch pulses 10 to 12)"))
		Expect(text(s, readtiming.LateServed)).To(HavePrefix("1 read was served late, the worst 2047.9 us after the latch pulse began (read 30)"))
	})

	It("finds the console's own pulse behind a stray one in the same read", func() {
		in := row(100)
		var with []feeder.Latch
		for i, l := range in.Latches {
			if i == 50 {
				stray := l
				stray.Micros -= 900
				stray.Clocks = 0
				with = append(with, stray)
			}
			with = append(with, l)
		}
		for i := range with {
			with[i].Index = int64(i)
		}
		in.Latches = with
		s := study(in)
		Expect(s.DoubleReads).To(Equal([]int64{50}))
		Expect(s.JitterPeakUS).To(BeNumerically("<", 3))
	})

	It("still tells of clock pulses when there is no frame grid", func() {
		in := row(20)
		in.Latches[4].Clocks = 9
		s, err := readtiming.Of(in)
		Expect(err).To(MatchError(clock.ErrFewReads))
		Expect(s.Untold).To(Equal(err.Error()))
		Expect(kinds(s)).To(Equal(map[readtiming.Kind][]int64{readtiming.ExtraClocks: {4}}))
		_, err = readtiming.Of(readtiming.Input{Console: in.Console})
		Expect(err).To(MatchError(clock.ErrNoReads))
	})

	It("is JSON with a list for every list", func() {
		for _, in := range []readtiming.Input{row(60), row(2)} {
			s, _ := readtiming.Of(in)
			src, err := json.Marshal(s)
			Expect(err).NotTo(HaveOccurred())
			Expect(string(src)).NotTo(ContainSubstring("null"))
		}
	})

	It("prints everything in few lines", func() {
		var out bytes.Buffer
		study(row(500)).Print(&out)
		lines := strings.Split(strings.TrimSuffix(out.String(), "\n"), "\n")
		Expect(len(lines)).To(BeNumerically("<", 40))
		Expect(out.String()).To(ContainSubstring("500 reads in 500 frames\n"))
		Expect(out.String()).To(ContainSubstring("by the board's own clock"))
		Expect(out.String()).To(ContainSubstring("service  not told by the board\n"))
	})
})
