package feeder_test

import (
	"context"
	"errors"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/fixtures/board"
	"latchproof/harness/feeder"
	"latchproof/specs/program"
)

var _ = Describe("a client and the simulated board on a pseudo-terminal", func() {
	ctx := context.Background()
	var con *console
	var log *collector
	BeforeEach(func() { con, log = newConsole(), &collector{} })

	It("learns what the board is", func() {
		_, c := wired(board.Options{Console: con, Serial: "S-7", Revision: "b", Firmware: "1.2", Capacity: 99, Ports: 1}, quick)
		id, err := c.Hello(ctx)
		Expect(err).NotTo(HaveOccurred())
		Expect(id).To(Equal(feeder.Identity{Protocol: feeder.Version, Serial: "S-7", Board: "b", Firmware: "1.2", Capacity: 99, Ports: 1}))
	})

	It("plays a run on two ports and logs every read", func() {
		b, c := plugged(board.Options{Console: con}, quick)
		runs := []program.Run{{Count: 3}, {State: program.State{P1: 0x81, P2: 0x8001}, Count: 5}, {State: program.State{P2: 2}, Count: 1}}
		q := request(runs...)
		q.Tail = 4
		out, err := c.Play(ctx, q, log.add)
		Expect(err).NotTo(HaveOccurred())
		Expect(out.Service).To(HaveLen(13))
		out.Service = nil
		Expect(out).To(Equal(feeder.Outcome{Reads: 13, Latches: 13, Reason: feeder.DoneComplete}))
		Expect(log.states()).To(Equal(expand(runs, 4)))
		Expect(con.found()).To(Equal(expand(runs, 4)))
		_, start := con.began()
		for i, l := range log.log {
			Expect(l.Index).To(Equal(int64(i)))
			Expect(l.Micros).To(Equal(b.Micros(start + time.Duration(i+1)*period)))
			Expect(l.Clocks).To(Equal(uint8(8)))
			Expect(l.Clocks2).To(Equal(uint8(8)))
		}
	})

	It("starts the console by reset or by power, held as asked", func() {
		b, c := plugged(board.Options{Console: con}, quick)
		q := request(program.Run{Count: 2})
		_, err := c.Play(ctx, q, nil)
		Expect(err).NotTo(HaveOccurred())
		kind, _ := con.began()
		Expect(kind).To(Equal(feeder.StartReset))
		q.Start, q.Hold = feeder.StartPower, 3*time.Second
		before := b.Clock().Now()
		_, err = c.Play(ctx, q, nil)
		Expect(err).NotTo(HaveOccurred())
		kind, at := con.began()
		Expect(kind).To(Equal(feeder.StartPower))
		Expect(at).To(BeNumerically(">", before+3*time.Second))
		Expect(at).To(BeNumerically("<", before+3200*time.Millisecond))
	})

	// Games that read twice to be sure make two latch pulses in one frame
	// (common practice, no source).
	It("serves a button held for five reads for exactly five reads, also when every read is two latch pulses", func() {
		con.pulses = 2
		_, c := plugged(board.Options{Console: con}, quick)
		a := program.State{P1: 1}
		q := request(program.Run{Count: 2}, program.Run{State: a, Count: 5})
		q.Tail = 3
		out, err := c.Play(ctx, q, log.add)
		Expect(err).NotTo(HaveOccurred())
		Expect(out.Reads).To(Equal(int64(10)))
		Expect(out.Latches).To(Equal(int64(20)))
		var held []int
		for i, s := range con.found() {
			if s == a {
				held = append(held, i)
			}
		}
		Expect(held).To(Equal([]int{4, 5, 6, 7, 8, 9, 10, 11, 12, 13}))
		Expect(log.states()).To(Equal(con.found()))
	})

	It("plays 20,000 runs through a buffer of 128", func() {
		_, c := plugged(board.Options{Console: con}, quick)
		runs := each(20000)
		out, err := c.Play(ctx, request(runs...), log.add)
		Expect(err).NotTo(HaveOccurred())
		Expect(out.Service).To(HaveLen(20000))
		out.Service = nil
		Expect(out).To(Equal(feeder.Outcome{Reads: 20000, Latches: 20000, Reason: feeder.DoneComplete}))
		Expect(log.states()).To(Equal(expand(runs, 0)))
		Expect(con.found()).To(Equal(expand(runs, 0)))
	})

	It("plays with a buffer of one run", func() {
		_, c := plugged(board.Options{Console: con, Capacity: 1}, quick)
		runs := each(60)
		_, err := c.Play(ctx, request(runs...), log.add)
		Expect(err).NotTo(HaveOccurred())
		Expect(con.found()).To(Equal(expand(runs, 0)))
	})

	DescribeTable("splits long holds at the wire's limit", func(n int64) {
		con.period = 2 * time.Millisecond
		_, c := plugged(board.Options{Console: con}, quick)
		s := program.State{P1: 3}
		out, err := c.Play(ctx, request(program.Run{State: s, Count: n}, program.Run{Count: 1}), log.add)
		Expect(err).NotTo(HaveOccurred())
		Expect(out.Latches).To(Equal(n + 1))
		Expect(con.found()[n-1]).To(Equal(s))
		Expect(con.found()[n]).To(Equal(program.State{}))
	},
		Entry("at the limit", int64(feeder.MaxRunCount)),
		Entry("one above it", int64(feeder.MaxRunCount)+1),
	)

	It("reports a console that stops reading as the console's end, not as an error", func() {
		con.reads = 7
		b, c := plugged(board.Options{Console: con}, quick)
		out, err := c.Play(ctx, request(program.Run{Count: 20}), log.add)
		Expect(err).NotTo(HaveOccurred())
		Expect(out.Service).To(HaveLen(7))
		out.Service = nil
		Expect(out).To(Equal(feeder.Outcome{Reads: 7, Latches: 7, Reason: feeder.DoneIdle}))
		_, start := con.began()
		Expect(b.Clock().Now()).To(Equal(start + 7*period + time.Second))
	})

	It("unwraps the board's 32-bit microseconds in the middle of a run", func() {
		_, c := plugged(board.Options{Console: con, StartMicros: 1<<32 - 1_500_000}, quick)
		before, err := c.Sync(ctx, 2)
		Expect(err).NotTo(HaveOccurred())
		_, err = c.Play(ctx, request(program.Run{Count: 60}), log.add)
		Expect(err).NotTo(HaveOccurred())
		after, err := c.Sync(ctx, 2)
		Expect(err).NotTo(HaveOccurred())
		Expect(log.log[0].Micros).To(BeNumerically("<", int64(1)<<32))
		Expect(log.log[59].Micros).To(BeNumerically(">", int64(1)<<32))
		for i := 1; i < len(log.log); i++ {
			Expect(log.log[i].Micros - log.log[i-1].Micros).To(BeNumerically("~", period.Microseconds(), 1))
		}
		Expect(before[1].Micros).To(BeNumerically("<", log.log[0].Micros))
		Expect(after[0].Micros).To(BeNumerically(">", log.log[59].Micros))
	})

	It("sets the clocks: the board's reading lies between sending and receiving", func() {
		b, c := plugged(board.Options{Console: con, PPM: 50, StartMicros: 12345, Seed: 4}, quick)
		syncs, err := c.Sync(ctx, 20)
		Expect(err).NotTo(HaveOccurred())
		Expect(syncs).To(HaveLen(20))
		for i, s := range syncs {
			Expect(s.Micros).To(BeNumerically(">=", b.Micros(s.Sent)))
			Expect(s.Micros).To(BeNumerically("<=", b.Micros(s.Received)))
			// Two to four milliseconds of USB and 24 bytes at 115200 baud.
			Expect(s.Received - s.Sent).To(And(BeNumerically(">", 2*time.Millisecond), BeNumerically("<", 7*time.Millisecond)))
			if i > 0 {
				Expect(s.Sent).To(Equal(syncs[i-1].Received))
			}
		}
	})

	It("recovers corrupted commands and answers by sending again", func() {
		o := quick
		o.Timeout = 20 * time.Millisecond
		_, c := plugged(board.Options{Console: con, CorruptRate: 0.004, Seed: 3, Heartbeat: 20 * time.Millisecond}, o)
		syncs, err := c.Sync(ctx, 50)
		Expect(err).NotTo(HaveOccurred())
		Expect(syncs).To(HaveLen(50))
		runs := each(2000)
		out, err := c.Play(ctx, request(runs...), log.add)
		// Commands and answers all got through: the console found the whole
		// program. The log has no second try, so here it has gaps, and says so.
		Expect(con.found()).To(Equal(expand(runs, 0)))
		Expect(err).To(MatchError(feeder.ErrDamaged))
		Expect(out.Damaged).To(BeTrue())
		Expect(out.Latches).To(Equal(int64(2000)))
		lost := int64(0)
		for _, g := range out.Lost {
			lost += g.To - g.From + 1
		}
		Expect(int64(len(log.log)) + lost).To(Equal(int64(2000)))
		Expect(lost).To(BeNumerically(">", 0))
		for _, l := range log.log {
			Expect(program.State{P1: l.P1, P2: l.P2}).To(Equal(runs[l.Index].State))
		}
	})

	It("marks a run damaged when log records are lost, and keeps the rest", func() {
		_, c := plugged(board.Options{Console: con, DropLogAt: []int64{3, 10, 11, 49}}, quick)
		out, err := c.Play(ctx, request(program.Run{Count: 50}), log.add)
		Expect(err).To(MatchError(feeder.ErrDamaged))
		Expect(err).To(MatchError("feeder: the log is damaged, the rest of it is kept: log record 3 never arrived; " +
			"log records 10 to 11 (2) never arrived; log record 49 never arrived"))
		Expect(out.Damaged).To(BeTrue())
		Expect(out.Lost).To(Equal([]feeder.LostRange{{From: 3, To: 3}, {From: 10, To: 11}, {From: 49, To: 49}}))
		Expect(out.Reason).To(Equal(feeder.DoneComplete))
		Expect(log.log).To(HaveLen(46))
		Expect(log.log[3].Index).To(Equal(int64(4)))
	})

	It("marks a run damaged when a log frame is corrupted", func() {
		_, c := plugged(board.Options{Console: con, CorruptAtLatch: []int64{20}}, quick)
		out, err := c.Play(ctx, request(program.Run{Count: 50}), log.add)
		Expect(err).To(MatchError(feeder.ErrDamaged))
		Expect(out.Lost).To(HaveLen(1))
		Expect(out.Lost[0].From).To(BeNumerically("<=", 20))
		Expect(out.Lost[0].To).To(BeNumerically(">=", 20))
		Expect(con.found()).To(HaveLen(50))
	})

	It("tells of an underrun without calling the log damaged", func() {
		b, c := plugged(board.Options{Console: con, UnderrunAt: []int64{5}}, quick)
		s := program.State{P1: 9}
		out, err := c.Play(ctx, request(program.Run{State: s, Count: 10}), log.add)
		Expect(err).NotTo(HaveOccurred())
		Expect(out.Underruns).To(Equal([]int64{5}))
		Expect(out.Damaged).To(BeFalse())
		Expect(out.Problems).To(ConsistOf("underrun at latch pulse 5 (read 5): the board had no program data and served released buttons"))
		Expect(con.found()[5]).To(Equal(program.State{}))
		Expect(con.found()[6]).To(Equal(s))
		Expect(b.Truth()[5].Kind).To(Equal(board.Starved))
	})

	It("says that the port is gone when the cable is pulled in a run", func() {
		_, c := plugged(board.Options{Console: con, UnplugAtLatch: board.At(100)}, quick)
		out, err := c.Play(ctx, request(program.Run{Count: 200}), log.add)
		Expect(err).To(MatchError(feeder.ErrGone))
		Expect(err.Error()).To(ContainSubstring("check the cable"))
		Expect(out.Reason).To(Equal(feeder.DoneNone))
		Expect(out.Latches).To(Equal(int64(100)))
		Expect(out.Problems).NotTo(BeEmpty())
		Expect(log.log).To(HaveLen(100))
		_, err = c.Hello(ctx)
		Expect(err).To(MatchError(feeder.ErrGone))
	})

	It("says that the board is silent when it never answers", func() {
		_, c := wired(board.Options{Console: con, Silent: true}, feeder.Options{Timeout: 10 * time.Millisecond, Retries: 2})
		_, err := c.Hello(ctx)
		Expect(err).To(MatchError(feeder.ErrSilent))
		Expect(err.Error()).To(HavePrefix("feeder: the board is silent: no answer to HELLO in 30ms; check that"))
	})

	It("says that the board is silent when it falls silent in a run", func() {
		o := quick
		o.Silence = 300 * time.Millisecond
		_, c := plugged(board.Options{Console: con, SilentAtLatch: board.At(40)}, o)
		out, err := c.Play(ctx, request(program.Run{Count: 200}), log.add)
		Expect(err).To(MatchError(feeder.ErrSilent))
		Expect(err.Error()).To(ContainSubstring("during the run, after 40 latch pulses"))
		Expect(out.Reason).To(Equal(feeder.DoneNone))
		Expect(log.log).To(HaveLen(40))
	})

	It("does not take a slow console for a silent board", func() {
		o := quick
		o.Silence = 300 * time.Millisecond
		con.onNext = func(n int64) {
			if n == 5 {
				time.Sleep(700 * time.Millisecond) // the time that a simulator takes over its pictures
			}
		}
		_, c := plugged(board.Options{Console: con, Heartbeat: 20 * time.Millisecond}, o)
		_, err := c.Play(ctx, request(program.Run{Count: 10}), log.add)
		Expect(err).NotTo(HaveOccurred())
	})

	It("refuses a board of another protocol version, naming both", func() {
		_, c := wired(board.Options{Console: con, WrongProtocol: true}, quick)
		id, err := c.Hello(ctx)
		Expect(err).To(MatchError(feeder.ErrProtocol))
		Expect(err).To(MatchError("feeder: the board speaks protocol version 2 and this program version 1; update the board's firmware or this program"))
		Expect(id.Protocol).To(Equal(2))
		_, err = c.Play(ctx, request(program.Run{Count: 1}), nil)
		Expect(err).To(MatchError(feeder.ErrRefused))
	})

	It("ends a run when its context is cancelled and keeps what was logged", func() {
		_, c := plugged(board.Options{Console: con}, quick)
		runs := each(50000)
		cctx, cancel := context.WithCancel(ctx)
		defer cancel()
		out, err := c.Play(cctx, request(runs...), func(l feeder.Latch) {
			log.add(l)
			if l.Index == 1000 {
				cancel()
			}
		})
		Expect(err).To(MatchError(context.Canceled))
		Expect(out.Reason).To(Equal(feeder.DoneAborted))
		Expect(out.Damaged).To(BeFalse())
		Expect(out.Latches).To(And(BeNumerically(">", 1000), BeNumerically("<", 50000)))
		Expect(log.log).To(HaveLen(int(out.Latches)))
		Expect(con.found()).To(Equal(expand(runs, 0)[:len(con.found())]))

		By("playing again on the same line")
		log.log = nil
		out, err = c.Play(ctx, request(runs[:50]...), log.add)
		Expect(err).NotTo(HaveOccurred())
		Expect(out.Latches).To(Equal(int64(50)))
		Expect(log.states()).To(Equal(expand(runs[:50], 0)))
	})

	It("can be cancelled at any moment and play again on the same line", func() {
		before := runtime.NumGoroutine()
		rng := rand.New(rand.NewPCG(1, 2))
		b, err := board.New(board.Options{Console: con})
		Expect(err).NotTo(HaveOccurred())
		l, err := feeder.Dial(b.Path())
		Expect(err).NotTo(HaveOccurred())
		c := feeder.NewClient(l, b.Clock(), quick)
		runs := each(3000)
		whole := 0
		for range 40 {
			cctx, cancel := context.WithTimeout(ctx, time.Duration(rng.Int64N(int64(40*time.Millisecond))))
			log.log = nil
			_, err := c.Hello(cctx)
			if err == nil {
				var out feeder.Outcome
				out, err = c.Play(cctx, request(runs...), log.add)
				Expect(out.Damaged).To(BeFalse())
				Expect(out.Latches).To(Equal(int64(len(log.log))))
				Expect(log.states()).To(Equal(expand(runs[:len(log.log)], 0)))
				if err == nil {
					whole++
					Expect(out.Reason).To(Equal(feeder.DoneComplete))
				}
			}
			if err != nil {
				Expect(err).To(MatchError(context.DeadlineExceeded))
			}
			cancel()
		}
		Expect(whole).To(BeNumerically("<", 40))
		_, err = c.Hello(ctx)
		Expect(err).NotTo(HaveOccurred())
		log.log = nil
		_, err = c.Play(ctx, request(runs...), log.add)
		Expect(err).NotTo(HaveOccurred())
		Expect(log.states()).To(Equal(expand(runs, 0)))
		Expect(c.Close()).To(Succeed())
		Expect(b.Close()).To(Succeed())
		Eventually(runtime.NumGoroutine).Should(BeNumerically("<=", before))
	})

	It("comes back at once when cancelled before anything was answered", func() {
		_, c := wired(board.Options{Console: con, Silent: true}, feeder.Options{Timeout: time.Hour})
		cctx, cancel := context.WithTimeout(ctx, 20*time.Millisecond)
		defer cancel()
		_, err := c.Hello(cctx)
		Expect(err).To(MatchError(context.DeadlineExceeded))
		Expect(err).To(MatchError("feeder: stopped while greeting the board: context deadline exceeded"))
	})

	It("takes over a board that another host left in the middle of a run", func() {
		b, c := plugged(board.Options{Console: con, Patience: time.Hour}, quick)
		_, err := c.Play(ctx, request(each(300)...), func(l feeder.Latch) {
			if l.Index == 100 {
				go c.Close()
				time.Sleep(time.Millisecond)
			}
		})
		Expect(err).To(Or(MatchError(feeder.ErrGone), Succeed()))
		Expect(c.Close()).To(Succeed())
		l, err := feeder.Dial(b.Path())
		Expect(err).NotTo(HaveOccurred())
		c2 := feeder.NewClient(l, b.Clock(), quick)
		defer c2.Close()
		_, err = c2.Hello(ctx)
		Expect(err).NotTo(HaveOccurred())
		out, err := c2.Play(ctx, request(each(300)...), log.add)
		Expect(err).NotTo(HaveOccurred())
		Expect(out.Latches).To(Equal(int64(300)))
	})

	DescribeTable("refuses a request that cannot be played", func(change func(*feeder.PlayRequest), want string) {
		_, c := plugged(board.Options{Console: con, Ports: 1}, quick)
		q := request(program.Run{Count: 5})
		change(&q)
		_, err := c.Play(ctx, q, nil)
		Expect(err).To(MatchError(feeder.ErrRefused))
		Expect(err).To(MatchError("feeder: " + want))
	},
		Entry("no reads", func(q *feeder.PlayRequest) { q.Runs, q.Reads = nil, 0 },
			"0 reads and 0 reads of tail cannot be played; 1 to 4294967295 together can"),
		Entry("wrong sum", func(q *feeder.PlayRequest) { q.Reads = 6 }, "the runs do not add up to the program's 6 reads"),
		Entry("sum too large", func(q *feeder.PlayRequest) { q.Reads = 4 }, "the runs do not add up to the program's 4 reads"),
		Entry("empty run", func(q *feeder.PlayRequest) { q.Runs[0].Count = 0 }, "run 0 has a count of 0; at least 1 is needed"),
		Entry("no port 2", func(q *feeder.PlayRequest) { q.Runs[0].State.P2 = 1 },
			"the program presses buttons on port 2 and the board has only one port"),
		Entry("polarity", func(q *feeder.PlayRequest) { q.LatchActive = "" }, `latch polarity "" is neither high nor low`),
		Entry("burst gap", func(q *feeder.PlayRequest) { q.BurstGap = time.Nanosecond },
			"burst gap 1ns is not a whole number of microseconds from 0 to 1 s"),
		Entry("limit", func(q *feeder.PlayRequest) { q.Limit = feeder.MaxLimit + time.Millisecond },
			"limit 30m0.001s is not a whole number of milliseconds from 1 ms to 30m0s"),
		Entry("hold", func(q *feeder.PlayRequest) { q.Hold = 65536 * time.Millisecond },
			"hold 1m5.536s is not a whole number of milliseconds from 1 ms to 65.535 s"),
	)
})

var _ = Describe("opening a port", func() {
	It("says that a port does not exist", func() {
		path := filepath.Join(GinkgoT().TempDir(), "nothing")
		_, err := feeder.Dial(path)
		Expect(err).To(MatchError(feeder.ErrPort))
		Expect(errors.Is(err, fs.ErrNotExist)).To(BeTrue())
		Expect(err.Error()).To(Equal(`feeder: the port "` + path + `" does not exist; plug the feeder in and check the name`))
	})
	It("says that a file is not a port", func() {
		path := filepath.Join(GinkgoT().TempDir(), "file")
		Expect(os.WriteFile(path, nil, 0o600)).To(Succeed())
		_, err := feeder.Dial(path)
		Expect(err).To(MatchError(feeder.ErrPort))
		Expect(err.Error()).To(Equal(`feeder: "` + path + `" is not a serial port`))
	})
	It("asks for a name", func() {
		_, err := feeder.Dial("")
		Expect(err).To(MatchError(feeder.ErrPort))
		Expect(strings.Contains(err.Error(), "no port is named")).To(BeTrue())
	})
})
