package live

import (
	"context"
	"errors"
	"fmt"
	"image"
	"sync/atomic"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("a recording", func() {
	// record records a whole script.
	record := func(s *script, k *kept, o Options, view func(Buffer)) (*Capture, []time.Duration, error) {
		GinkgoHelper()
		o.Open = func(context.Context) (Source, error) { return s, nil }
		o.Now = func() time.Duration { return -time.Hour } // every picture is late enough to stop at
		o.Create = func(string, Info) (File, error) { return k, nil }
		c := New(o)
		c.View(view)
		Expect(c.Start(context.Background(), "capture.mkv")).To(Succeed())
		select {
		case <-s.done:
		case <-c.Broken():
		}
		stamps, err := c.Stop(context.Background())
		Expect(c.Close()).To(Succeed())
		return c, stamps, err
	}

	It("keeps every picture and its instant", func() {
		k := &kept{}
		c, stamps, err := record(newScript(MJPEG, image.Pt(4, 4), seen(5, "a"), seen(6, "b"), seen(7, "c")), k, Options{}, nil)
		Expect(err).NotTo(HaveOccurred())
		Expect(k.all).To(Equal([]string{"a", "b", "c"}))
		Expect(k.at).To(Equal([]time.Duration{0, 10 * time.Millisecond, 20 * time.Millisecond}))
		Expect(stamps).To(Equal([]time.Duration{50 * time.Millisecond, 60 * time.Millisecond, 70 * time.Millisecond}))
		Expect(k.shut).To(BeTrue())
		r := c.Report()
		Expect(r.Pictures).To(BeEquivalentTo(3))
		Expect(r.Problems()).To(BeEmpty())
		Expect(r.Gaps).To(BeEmpty())
	})

	It("counts what the card lost, damaged and gave empty, each by itself", func() {
		damaged := seen(12, "d")
		damaged.Flags |= Damaged
		c, stamps, err := record(newScript(MJPEG, image.Pt(4, 4),
			seen(5, "a"), seen(9, "b"), ErrFault, seen(10, ""), ErrNoSignal, ErrNoSignal, seen(11, "c"), damaged), &kept{}, Options{}, nil)
		Expect(err).NotTo(HaveOccurred())
		Expect(stamps).To(HaveLen(4))
		r := c.Report()
		Expect(r.Card).To(BeEquivalentTo(4), "6, 7, 8, and the empty one")
		Expect(r.Empty).To(BeEquivalentTo(1))
		Expect(r.Faults).To(BeEquivalentTo(1))
		Expect(r.Signal).To(BeEquivalentTo(2))
		Expect(r.Ours).To(BeZero())
		Expect(r.DamagedAt).To(Equal([]int64{3}))
		Expect(r.Gaps).To(Equal([]Gap{{After: 0, Card: 3}, {After: 1, Card: 1}}))
		Expect(r.Problems()).To(Equal([]string{
			"capture: 4 pictures were lost by the card", "capture: 1 picture is damaged, says the card",
			"capture: 1 error of the card, after which it went on", "capture: 2 seconds without a picture: no signal",
		}))
	})

	It("never loses a picture to a viewer that is slow", func() {
		const n = 500
		var steps []any
		for i := range n {
			steps = append(steps, seen(i, fmt.Sprint(i)))
		}
		block := make(chan struct{})
		var shown atomic.Int64
		k := &kept{}
		s := newScript(MJPEG, image.Pt(4, 4), steps...)
		go func() { <-s.done; close(block) }()
		c, stamps, err := record(s, k, Options{ViewQueue: 3, RecordQueue: n}, func(Buffer) { <-block; shown.Add(1) })
		Expect(err).NotTo(HaveOccurred())
		Expect(k.all).To(HaveLen(n))
		Expect(stamps).To(HaveLen(n))
		r := c.Report()
		Expect(r.Ours).To(BeZero())
		Expect(r.Card).To(BeZero())
		// The one in its hands, and those in the queue.
		Expect(shown.Load()).To(And(BeNumerically(">=", 3), BeNumerically("<=", 4)))
		Expect(r.Skipped).To(Equal(n - shown.Load()))
		Expect(r.Problems()).To(BeEmpty())
	})

	It("counts what it drops itself apart from what the card lost", func() {
		var steps []any
		for i := range 20 {
			if i != 7 { // the card's
				steps = append(steps, seen(i, fmt.Sprint(i)))
			}
		}
		k := &kept{gate: make(chan struct{})}
		s := newScript(MJPEG, image.Pt(4, 4), steps...)
		go func() { <-s.done; close(k.gate) }()
		c, stamps, err := record(s, k, Options{RecordQueue: 4}, nil)
		Expect(err).NotTo(HaveOccurred())
		r := c.Report()
		Expect(r.Card).To(BeEquivalentTo(1))
		Expect(r.Pictures + r.Ours).To(BeEquivalentTo(19))
		Expect(r.Pictures).To(And(BeNumerically(">=", 4), BeNumerically("<=", 5)))
		Expect(stamps).To(HaveLen(int(r.Pictures)))
		Expect(k.all).To(HaveLen(int(r.Pictures)))
		var sum Gap
		for _, g := range r.Gaps {
			sum.Ours, sum.Card = sum.Ours+g.Ours, sum.Card+g.Card
			Expect(g.After).To(And(BeNumerically(">=", 3), BeNumerically("<=", 4)))
		}
		Expect(sum).To(Equal(Gap{Ours: r.Ours, Card: 1}))
		Expect(r.Problems()).To(ContainElement(ContainSubstring("lost by this program")))
	})

	It("breaks off at an error of the file and says which", func() {
		broken := errors.New("disk full")
		k := &kept{after: 2, err: broken}
		c, stamps, err := record(newScript(MJPEG, image.Pt(4, 4), seen(0, "a"), seen(1, "b"), seen(2, "c"), seen(3, "d")), k, Options{}, nil)
		Expect(err).To(MatchError(broken))
		Expect(stamps).To(HaveLen(2))
		Expect(c.Broken()).To(BeClosed())
		Expect(k.shut).To(BeTrue())
	})

	It("breaks off when the card is gone, and after too many errors in a row", func() {
		c, stamps, err := record(newScript(MJPEG, image.Pt(4, 4), seen(0, "a"), ErrGone), &kept{}, Options{}, nil)
		Expect(err).To(MatchError(ErrGone))
		Expect(stamps).To(HaveLen(1))
		Expect(c.Broken()).To(BeClosed())

		steps := []any{seen(0, "a")}
		for range maxFaults {
			steps = append(steps, ErrFault)
		}
		_, _, err = record(newScript(MJPEG, image.Pt(4, 4), steps...), &kept{}, Options{}, nil)
		Expect(err).To(MatchError(ErrGone))
		Expect(err).To(MatchError(ErrFault))
	})

	It("does not begin without a picture", func() {
		s := newScript(MJPEG, image.Pt(4, 4), ErrNoSignal, seen(0, ""))
		c := New(Options{
			Open: func(context.Context) (Source, error) { return s, nil }, Now: func() time.Duration { return 0 },
			Patience: 20 * time.Millisecond, Create: func(string, Info) (File, error) { panic("no file is made") },
		})
		Expect(c.Start(context.Background(), "x.mkv")).To(MatchError(ErrNoSignal))
		Expect(c.Close()).To(Succeed())
	})

	It("ends when it is closed in the middle", func() {
		k := &kept{}
		s := newScript(MJPEG, image.Pt(4, 4), seen(0, "a"))
		c := New(Options{Open: func(context.Context) (Source, error) { return s, nil }, Now: func() time.Duration { return 0 },
			Create: func(string, Info) (File, error) { return k, nil }})
		Expect(c.Start(context.Background(), "x.mkv")).To(Succeed())
		Expect(c.Close()).To(Succeed())
		Expect(k.shut).To(BeTrue())
	})
})

var _ = Describe("counting lost pictures", func() {
	count := func(period time.Duration, all ...Buffer) (lost []int64) {
		c := counter{period: period}
		for _, b := range all {
			lost = append(lost, c.lost(b))
		}
		return lost
	}
	at := func(ms int, flags Flags) Buffer {
		return Buffer{Stamp: time.Duration(ms) * time.Millisecond, Media: time.Duration(ms) * time.Millisecond, Flags: flags}
	}

	It("goes by the card's count, and by the time where there is none", func() {
		Expect(count(0, Buffer{Seq: 3, Flags: HasSeq}, Buffer{Seq: 4, Flags: HasSeq}, Buffer{Seq: 10, Flags: HasSeq})).To(Equal([]int64{0, 0, 5}))
		// After a count that went back the time tells.
		Expect(count(10*time.Millisecond,
			Buffer{Seq: 9, Flags: HasSeq, Stamp: 10 * time.Millisecond}, Buffer{Seq: 10, Stamp: 40 * time.Millisecond},
			Buffer{Seq: 11, Flags: HasSeq, Stamp: 50 * time.Millisecond})).To(Equal([]int64{0, 2, 0}))
	})

	It("knows 59.94 Hz in whole milliseconds, and trusts no time of arrival", func() {
		period := time.Second * 1001 / 60000
		var all []Buffer
		for k := range 600 {
			if k != 100 && k != 300 && k != 301 {
				all = append(all, at(int((time.Duration(k)*period).Round(time.Millisecond)/time.Millisecond), HasMedia))
			}
		}
		sum := int64(0)
		for _, n := range count(period, all...) {
			sum += n
		}
		Expect(sum).To(BeEquivalentTo(3))
		Expect(count(period, at(0, Late), at(100, Late))).To(Equal([]int64{0, 0}))
		Expect(count(0, at(0, HasMedia), at(100, HasMedia))).To(Equal([]int64{0, 0}))
	})
})

var _ = Describe("the instants of a stream", func() {
	It("lie so that none arrives before its time and one on it", func() {
		ms := time.Millisecond
		got := instants([]place{{105 * ms, 0, true}, {113 * ms, 10 * ms, true}, {140 * ms, 20 * ms, true}, {141 * ms, 30 * ms, true}})
		Expect(got).To(Equal([]time.Duration{103 * ms, 113 * ms, 123 * ms, 133 * ms}))
	})
	It("are the stamps when there is nothing else, and never fall", func() {
		Expect(instants([]place{{5, 0, false}, {4, 0, false}, {9, 0, false}})).To(Equal([]time.Duration{5, 5, 9}))
		Expect(instants(nil)).To(BeEmpty())
	})
})
