package feeder_test

import (
	"context"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/feeder"
	"latchproof/specs/program"
)

var _ = Describe("service latencies", func() {
	DescribeTable("are sixteenths of a microsecond on the wire", func(in time.Duration, wire int, back time.Duration) {
		w := feeder.ServiceOf(in, true)
		Expect(w).To(Equal(feeder.WireService{Sixteenths: uint16(wire), Late: true}))
		Expect(w.Latency()).To(Equal(back))
	},
		Entry("none", 0*time.Nanosecond, 0, 0*time.Nanosecond),
		Entry("3 us", 3*time.Microsecond, 48, 3*time.Microsecond),
		Entry("a sixteenth is 62.5 ns", 63*time.Nanosecond, 1, 62*time.Nanosecond),
		Entry("just under a sixteenth", 62*time.Nanosecond, 0, 0*time.Nanosecond),
		Entry("one below the most", 2047937*time.Nanosecond, 32766, 2047875*time.Nanosecond),
		Entry("the most", 2047938*time.Nanosecond, 32767, feeder.MaxServiceLatency),
		Entry("an hour", time.Hour, 32767, feeder.MaxServiceLatency),
	)

	// play has a peer answer START with these messages and gives the outcome.
	play := func(ms ...feeder.Message) (feeder.Outcome, error) {
		GinkgoHelper()
		_, line := scripted(greeted,
			step{want: feeder.TypeArm, reply: frames(ok(feeder.StateArmed, 4))},
			step{want: feeder.TypeLoad, reply: frames(ok(feeder.StateArmed, 4))},
			step{want: feeder.TypeStart, reply: frames(append([]feeder.Message{ok(feeder.StateRunning, 5)}, ms...)...)})
		c := feeder.NewClient(line, &stopped{}, patient)
		DeferCleanup(c.Close)
		_, err := c.Hello(context.Background())
		Expect(err).NotTo(HaveOccurred())
		return c.Play(context.Background(), request(program.Run{Count: 6}), nil)
	}
	served := func(first uint32, micros ...int) *feeder.ServiceLog {
		m := &feeder.ServiceLog{First: first}
		for _, u := range micros {
			m.Records = append(m.Records, feeder.ServiceOf(time.Duration(u)*time.Microsecond, u > 12))
		}
		return m
	}
	log := &feeder.LatchLog{Records: make([]feeder.WireLatch, 6)}
	end := &feeder.Done{Reason: feeder.DoneComplete, Reads: 6, Latches: 6}

	It("are handed on, each once, whatever comes twice", func() {
		out, err := play(served(0, 3, 4), log, served(0, 3, 4), served(1, 4, 20), served(3, 3, 3, 3), end)
		Expect(err).NotTo(HaveOccurred())
		Expect(out.Problems).To(BeEmpty())
		var want []feeder.Service
		for i, u := range []int{3, 4, 20, 3, 3, 3} {
			want = append(want, feeder.Service{Index: int64(i), Latency: time.Duration(u) * time.Microsecond, Late: u > 12})
		}
		Expect(out.Service).To(Equal(want))
		Expect(out.ServiceLost).To(BeEmpty())
	})

	It("may be missing, which is said and damages nothing", func() {
		out, err := play(log, served(1, 3), served(4, 3), end)
		Expect(err).NotTo(HaveOccurred())
		Expect(out.Damaged).To(BeFalse())
		Expect(out.Service).To(HaveLen(2))
		Expect(out.ServiceLost).To(Equal([]feeder.LostRange{{From: 0, To: 0}, {From: 2, To: 3}, {From: 5, To: 5}}))
		Expect(out.Problems).To(Equal([]string{
			"the service latency of latch pulse 0 never arrived; the log itself lacks nothing by it",
			"the service latencies of latch pulses 2 to 3 never arrived; the log itself lacks nothing by it",
			"the service latency of latch pulse 5 never arrived; the log itself lacks nothing by it",
		}))
	})

	It("need not be sent at all", func() {
		out, err := play(log, end)
		Expect(err).NotTo(HaveOccurred())
		Expect(out.Service).To(BeEmpty())
		Expect(out.ServiceLost).To(BeEmpty())
		Expect(out.Problems).To(BeEmpty())
	})

	It("of pulses that the board does not count are left out", func() {
		out, err := play(log, served(0, 3, 3, 3, 3, 3, 3, 3), end)
		Expect(err).NotTo(HaveOccurred())
		Expect(out.Service).To(HaveLen(6))
		Expect(out.ServiceLost).To(BeEmpty())
	})
})
