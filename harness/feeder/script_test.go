package feeder_test

import (
	"bytes"
	"context"
	"errors"
	"io"
	"runtime"
	"strings"
	"sync/atomic"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/feeder"
	"latchproof/specs/program"
)

// brisk is for peers that never lag: what times out is meant to.
var brisk = feeder.Options{Timeout: 50 * time.Millisecond, Retries: 3, Silence: 200 * time.Millisecond}

// patient is for peers that answer everything.
var patient = feeder.Options{Timeout: 5 * time.Second, Silence: 5 * time.Second}

// stopped is a clock that stands still.
type stopped struct{ at atomic.Int64 }

func (c *stopped) Now() time.Duration { return time.Duration(c.at.Load()) }

var _ = Describe("a client and a scripted peer", func() {
	ctx := context.Background()
	var log *collector
	BeforeEach(func() { log = &collector{} })

	client := func(o feeder.Options, steps ...step) *feeder.Client {
		GinkgoHelper()
		_, line := scripted(steps...)
		c := feeder.NewClient(line, &stopped{}, o)
		DeferCleanup(c.Close)
		return c
	}
	hello := func(c *feeder.Client) {
		GinkgoHelper()
		_, err := c.Hello(ctx)
		Expect(err).NotTo(HaveOccurred())
	}
	armed := step{want: feeder.TypeArm, reply: frames(ok(feeder.StateArmed, 4))}
	loaded := step{want: feeder.TypeLoad, reply: frames(ok(feeder.StateArmed, 4))}
	rec := func(first uint32, micros ...uint32) *feeder.LatchLog {
		m := &feeder.LatchLog{First: first}
		for _, u := range micros {
			m.Records = append(m.Records, feeder.WireLatch{Micros: u, Clocks: 8})
		}
		return m
	}
	started := func(ms ...feeder.Message) step {
		return step{want: feeder.TypeStart, reply: frames(append([]feeder.Message{ok(feeder.StateRunning, 5)}, ms...)...)}
	}
	done := func(reads, latches uint32) *feeder.Done {
		return &feeder.Done{Reason: feeder.DoneComplete, Reads: reads, Latches: latches}
	}

	It("announces, loads and starts in this order, with what was asked for", func() {
		q := request(program.Run{State: program.State{P1: 1, P2: 2}, Count: 70000})
		q.Tail, q.LatchActive, q.Start, q.Hold, q.Limit = 9, "low", feeder.StartPower, 1500*time.Millisecond, 0
		c := client(patient, greeted,
			step{want: feeder.TypeArm, reply: frames(ok(feeder.StateArmed, 4)), check: func(m feeder.Message) {
				Expect(m).To(Equal(&feeder.Arm{Runs: 2, Reads: 70000, Tail: 9, BurstMicros: 1000, LimitMillis: 10000}))
			}},
			step{want: feeder.TypeLoad, reply: frames(ok(feeder.StateArmed, 4)), check: func(m feeder.Message) {
				Expect(m).To(Equal(&feeder.Load{Runs: []feeder.WireRun{{Count: 65535, P1: 1, P2: 2}, {Count: 4465, P1: 1, P2: 2}}}))
			}},
			step{want: feeder.TypeStart, reply: frames(ok(feeder.StateRunning, 4), done(0, 0)), check: func(m feeder.Message) {
				Expect(m).To(Equal(&feeder.Start{Kind: feeder.StartPower, HoldMillis: 1500}))
			}})
		hello(c)
		_, err := c.Play(ctx, q, nil)
		Expect(err).NotTo(HaveOccurred())
	})

	It("loads no further than the credit goes, and on as it grows", func() {
		next := func(offset uint32, n int, ms ...feeder.Message) step {
			return step{want: feeder.TypeLoad, reply: frames(append([]feeder.Message{ok(feeder.StateRunning, 0)}, ms...)...),
				check: func(m feeder.Message) {
					l := m.(*feeder.Load)
					Expect(l.Offset).To(Equal(offset))
					Expect(l.Runs).To(HaveLen(n))
				}}
		}
		c := client(patient, greeted, armed, next(0, 4), started(),
			next(4, 1, &feeder.Credit{Credit: 8}), next(5, 3, &feeder.Credit{Credit: 6}, &feeder.Credit{Credit: 100}),
			next(8, 12, done(0, 0)))
		hello(c)
		_, err := c.Play(ctx, request(each(20)...), nil)
		Expect(err).NotTo(HaveOccurred())
	})

	It("sends a command again under the same number until it is answered", func() {
		var seqs []uint8
		note := func(reply func(uint8) []byte) func(uint8) []byte {
			return func(seq uint8) []byte {
				seqs = append(seqs, seq)
				if reply == nil {
					return nil
				}
				return reply(seq)
			}
		}
		bad := func(seq uint8) []byte {
			p := frames(ok(feeder.StateArmed, 4))(seq)
			p[3] ^= 0x10
			return p
		}
		c := client(brisk, greeted,
			step{want: feeder.TypeArm, reply: note(nil)},
			step{want: feeder.TypeArm, reply: note(bad)},
			step{want: feeder.TypeArm, reply: note(frames(ok(feeder.StateArmed, 4)))},
			loaded, started(done(0, 0)))
		hello(c)
		_, err := c.Play(ctx, request(program.Run{Count: 1}), nil)
		Expect(err).NotTo(HaveOccurred())
		Expect(seqs).To(HaveLen(3))
		Expect(seqs[1]).To(Equal(seqs[0]))
		Expect(seqs[2]).To(Equal(seqs[0]))
	})

	It("gives up after the last try and tells the board once to abort", func() {
		c := client(feeder.Options{Timeout: 20 * time.Millisecond, Retries: 1}, greeted,
			step{want: feeder.TypeArm}, step{want: feeder.TypeArm}, step{want: feeder.TypeAbort})
		hello(c)
		_, err := c.Play(ctx, request(program.Run{Count: 1}), nil)
		Expect(err).To(MatchError(feeder.ErrSilent))
		Expect(err.Error()).To(ContainSubstring("no answer to ARM in 40ms"))
	})

	It("reports a refusal with the board's reason and aborts", func() {
		c := client(patient, greeted,
			step{want: feeder.TypeArm, reply: frames(&feeder.Ack{Status: feeder.StatusValue})},
			step{want: feeder.TypeAbort, reply: frames(ok(feeder.StateIdle, 4))})
		hello(c)
		out, err := c.Play(ctx, request(program.Run{Count: 1}), nil)
		Expect(err).To(MatchError(feeder.ErrRefused))
		Expect(err).To(MatchError("feeder: the board refused ARM: value out of range"))
		Expect(out.Problems).To(ConsistOf("the board refused ARM: value out of range"))
	})

	It("takes records that come twice once", func() {
		c := client(patient, greeted, armed, loaded,
			started(rec(0, 10, 20), rec(0, 10, 20), rec(1, 20, 30), done(3, 3), done(3, 3)))
		hello(c)
		out, err := c.Play(ctx, request(program.Run{Count: 3}), log.add)
		Expect(err).NotTo(HaveOccurred())
		Expect(out.Problems).To(BeEmpty())
		Expect(log.log).To(Equal([]feeder.Latch{
			{Index: 0, Micros: 10, Clocks: 8}, {Index: 1, Micros: 20, Clocks: 8}, {Index: 2, Micros: 30, Clocks: 8}}))
	})

	It("leaves out what an earlier run still had to say", func() {
		c := client(patient, greeted,
			step{want: feeder.TypeArm, reply: also(rec(7, 1), ok(feeder.StateArmed, 4), done(9, 9))},
			loaded, started(rec(0, 1), done(1, 1)))
		hello(c)
		out, err := c.Play(ctx, request(program.Run{Count: 1}), log.add)
		Expect(err).NotTo(HaveOccurred())
		Expect(out.Latches).To(Equal(int64(1)))
		Expect(log.log).To(HaveLen(1))
	})

	It("sees that the last records, and reports, are missing", func() {
		end := done(5, 5)
		end.Underruns, end.Faults = 2, 1
		c := client(patient, greeted, armed, loaded, started(rec(0, 1, 2, 3), &feeder.Underrun{Latch: 2, Read: 2}, end))
		hello(c)
		out, err := c.Play(ctx, request(program.Run{Count: 5}), log.add)
		Expect(err).To(MatchError(feeder.ErrDamaged))
		Expect(out.Lost).To(Equal([]feeder.LostRange{{From: 3, To: 4}}))
		Expect(out.Problems).To(ContainElements("log records 3 to 4 (2) never arrived",
			"the board sent 2 underrun reports and 1 arrived", "the board sent 1 fault reports and 0 arrived"))
	})

	It("reports a board that gives up", func() {
		c := client(patient, greeted, armed, loaded, started(
			&feeder.Fault{Code: feeder.FaultReset, Text: "reset line stuck low"},
			&feeder.Done{Reason: feeder.DoneFault, Faults: 1}))
		hello(c)
		out, err := c.Play(ctx, request(program.Run{Count: 1}), nil)
		Expect(err).To(MatchError(feeder.ErrFault))
		Expect(err).To(MatchError("feeder: the board gave up: the board reports fault 1: reset line stuck low"))
		Expect(out.Reason).To(Equal(feeder.DoneFault))
	})

	It("takes a chunk refused because the run is over for the end of the run", func() {
		c := client(patient, greeted, armed, step{want: feeder.TypeLoad, reply: frames(ok(feeder.StateArmed, 4))}, started(rec(0, 1)),
			step{want: feeder.TypeLoad, reply: frames(&feeder.Ack{Status: feeder.StatusState, State: feeder.StateDone},
				&feeder.Done{Reason: feeder.DoneIdle, Reads: 1, Latches: 1})})
		hello(c)
		out, err := c.Play(ctx, request(each(9)...), log.add)
		Expect(err).NotTo(HaveOccurred())
		Expect(out.Reason).To(Equal(feeder.DoneIdle))
	})

	It("aborts when cancelled while loading, and waits for no end of a run that never began", func() {
		cctx, cancel := context.WithCancel(ctx)
		c := client(patient, greeted, armed,
			step{want: feeder.TypeLoad, check: func(feeder.Message) { cancel() }},
			step{want: feeder.TypeAbort, reply: frames(ok(feeder.StateIdle, 4))})
		hello(c)
		out, err := c.Play(cctx, request(program.Run{Count: 1}), nil)
		Expect(err).To(MatchError(context.Canceled))
		Expect(out.Reason).To(Equal(feeder.DoneNone))
	})

	It("aborts when cancelled in a run, and takes in what the board still logged", func() {
		cctx, cancel := context.WithCancel(ctx)
		c := client(patient, greeted, armed, loaded, started(rec(0, 1)),
			step{want: feeder.TypeAbort, reply: also(rec(1, 2, 3), ok(feeder.StateDone, 4),
				&feeder.Done{Reason: feeder.DoneAborted, Reads: 3, Latches: 3})})
		hello(c)
		out, err := c.Play(cctx, request(program.Run{Count: 10}), func(l feeder.Latch) {
			log.add(l)
			cancel()
		})
		Expect(err).To(MatchError(context.Canceled))
		Expect(out.Reason).To(Equal(feeder.DoneAborted))
		Expect(out.Latches).To(Equal(int64(3)))
		Expect(log.log).To(HaveLen(3))
	})

	It("says what came when what came makes no sense", func() {
		c := client(feeder.Options{Timeout: 20 * time.Millisecond, Retries: -1},
			step{want: feeder.TypeHello, reply: frames(&feeder.IdentityMsg{Proto: feeder.Version})})
		_, err := c.Hello(ctx)
		Expect(err).To(MatchError(feeder.ErrSilent))
		Expect(err.Error()).To(ContainSubstring("something came that makes no sense: IDENTITY message: 0 ports"))
	})

	It("refuses to play or to set clocks before the greeting", func() {
		c := client(patient)
		_, err := c.Play(ctx, request(program.Run{Count: 1}), nil)
		Expect(err).To(MatchError(feeder.ErrRefused))
		_, err = c.Sync(ctx, 1)
		Expect(err).To(MatchError("feeder: the board was not greeted; call Hello first"))
	})

	It("unwraps the board's clock over pauses longer than its 71.6 minutes, by the host's clock", func() {
		clock := &stopped{}
		answer := func(micros int64) step {
			s := step{want: feeder.TypeSync}
			var token uint32
			s.check = func(m feeder.Message) { token = m.(*feeder.SyncAsk).Token }
			s.reply = func(seq uint8) []byte { return frames(&feeder.Synced{Token: token, Micros: uint32(micros)})(seq) }
			return s
		}
		hours := int64(5 * time.Hour / time.Microsecond)
		_, line := scripted(greeted, answer(1000), answer(1000+hours+40_000_000), answer(1000+hours+41_000_000))
		c := feeder.NewClient(line, clock, patient)
		DeferCleanup(c.Close)
		hello(c)
		one, err := c.Sync(ctx, 1)
		Expect(err).NotTo(HaveOccurred())
		clock.at.Store(int64(5 * time.Hour))
		two, err := c.Sync(ctx, 2)
		Expect(err).NotTo(HaveOccurred())
		Expect(one[0].Micros).To(Equal(int64(1000)))
		Expect(two[0].Micros).To(Equal(1000 + hours + 40_000_000))
		Expect(two[1].Micros).To(Equal(1000 + hours + 41_000_000))
	})

	It("leaves nothing running after Close, also in the middle of a call", func() {
		before := runtime.NumGoroutine()
		_, line := scripted(step{want: feeder.TypeHello})
		c := feeder.NewClient(line, nil, feeder.Options{Timeout: time.Hour})
		ended := make(chan error)
		go func() {
			_, err := c.Hello(ctx)
			ended <- err
		}()
		time.Sleep(10 * time.Millisecond)
		Expect(c.Close()).To(Succeed())
		Expect(<-ended).To(MatchError(feeder.ErrGone))
		Eventually(runtime.NumGoroutine).Should(BeNumerically("<=", before+1)) // the peer's own
		Expect(c.Close()).To(Succeed())
	})
})

// rigged is a line whose writes come back as scripted and whose reads wait.
type rigged struct {
	bytes.Buffer
	takes []int // bytes taken by each write; none left: all
	err   error
	quit  chan struct{}
	stuck chan struct{} // a write waits for it
}

func (r *rigged) Read([]byte) (int, error) {
	<-r.quit
	return 0, io.EOF
}

func (r *rigged) Write(p []byte) (int, error) {
	if r.stuck != nil {
		<-r.stuck
		return len(p), nil
	}
	n := len(p)
	if len(r.takes) > 0 {
		n, r.takes = min(r.takes[0], n), r.takes[1:]
	}
	r.Buffer.Write(p[:n])
	return n, r.err
}

func (r *rigged) Close() error {
	close(r.quit)
	if r.stuck != nil {
		close(r.stuck)
	}
	return nil
}

var _ = Describe("writing", func() {
	ctx := context.Background()
	short := feeder.Options{Timeout: 10 * time.Millisecond, Retries: -1}

	It("goes on after a short write", func() {
		r := &rigged{takes: []int{1, 2, 3}, quit: make(chan struct{})}
		c := feeder.NewClient(r, nil, short)
		_, err := c.Hello(ctx)
		Expect(err).To(MatchError(feeder.ErrSilent))
		Expect(c.Close()).To(Succeed())
		var d feeder.Decoder
		Expect(take(&d, r.Bytes())).To(HaveLen(1))
		Expect(d.Bad()).To(BeZero())
	})

	It("takes a write of nothing, with no error, for a port that is gone", func() {
		r := &rigged{takes: []int{4, 0}, quit: make(chan struct{})}
		c := feeder.NewClient(r, nil, short)
		defer c.Close()
		_, err := c.Hello(ctx)
		Expect(err).To(MatchError(feeder.ErrGone))
		Expect(errors.Is(err, io.ErrShortWrite)).To(BeTrue())
	})

	It("reports a failed write", func() {
		r := &rigged{err: errors.New("input/output error"), quit: make(chan struct{})}
		c := feeder.NewClient(r, nil, short)
		defer c.Close()
		_, err := c.Hello(ctx)
		Expect(err).To(MatchError(feeder.ErrGone))
		Expect(strings.Contains(err.Error(), "input/output error")).To(BeTrue())
	})

	It("does not wait for ever for a port that takes no bytes", func() {
		r := &rigged{stuck: make(chan struct{}), quit: make(chan struct{})}
		c := feeder.NewClient(r, nil, short)
		_, err := c.Hello(ctx)
		Expect(err).To(MatchError(feeder.ErrSilent))
		Expect(c.Close()).To(Succeed())
	})
})
