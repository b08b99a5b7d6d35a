package soak_test

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/soak"
	"latchproof/harness/stats"
)

var _ = Describe("the policy lean", func() {
	It("bounds what is kept of clean and of troubled repeats, and keeps every founder", func() {
		k := soak.Keeper{Keep: soak.Lean}
		video, trace := map[int]bool{}, map[int]bool{}
		take := func(e soak.Entry) bool {
			drops, whole := k.After(e)
			video[e.Repeat], trace[e.Repeat] = true, true
			for _, d := range drops {
				if d.Video {
					delete(video, d.Repeat)
				}
				if d.Trace {
					delete(trace, d.Repeat)
				}
			}
			return whole
		}
		Expect(take(reference())).To(BeTrue())
		n := 2
		for ; n <= 200; n++ {
			Expect(take(clean(n))).To(BeFalse())
			Expect(video).To(HaveLen(1))
			Expect(len(trace)).To(BeNumerically("<=", 51))
		}
		Expect(trace).To(HaveLen(51))
		Expect(trace).To(HaveKey(200))
		Expect(trace).To(HaveKey(151))
		Expect(trace).NotTo(HaveKey(150))
		for i := range 30 {
			e := clean(n)
			switch i % 3 {
			case 0:
				e = left(n)
			case 1:
				e.Failed = []string{"gate"}
			case 2:
				e.Trouble = true
			}
			Expect(take(e)).To(Equal(i < 20), "troubled repeat %d", i)
			n++
		}
		Expect(video).To(HaveLen(21))
		founder := parted(n, 300)
		founder.Compared.Founder, founder.Compared.Family = true, 1
		Expect(take(founder)).To(BeTrue())
		Expect(video).To(HaveLen(22))
		Expect(trace).To(HaveLen(22 + 50))
		drops, whole := k.After(stopped(n + 1))
		Expect(drops).To(BeEmpty())
		Expect(whole).To(BeFalse())
	})

	It("is not the policy all", func() {
		k := soak.Keeper{Keep: soak.All}
		for _, e := range sample {
			drops, _ := k.After(e)
			Expect(drops).To(BeEmpty())
		}
	})
})

var _ = Describe("the tally", func() {
	It("counts trials, and says how far it is", func() {
		var t soak.Tally
		for _, e := range sample {
			t.Add(e, false)
		}
		Expect(t.Trials()).To(BeEquivalentTo(4))
		Expect(t.Judged()).To(BeEquivalentTo(5))
		Expect(t.Line(stats.Weighing{CleanNeeded: 412})).To(Equal("repeat 6: 3 clean, 1 parted at frame 525, 1 left out; 412 more clean repeats would prove it"))
		Expect(t.Reasons).To(Equal([]string{
			"repeat 3 was stopped: it was interrupted", "repeat 3 was stopped: it was interrupted", "repeat 5 was left out: the board fell silent"}))
		Expect(t.Stopped).To(BeEquivalentTo(2))
		t.Add(parted(7, 99), false)
		Expect(t.Line(stats.Weighing{CleanNeeded: -1})).To(Equal("repeat 7: 3 clean, 2 parted, the earliest at frame 99, 1 left out; more than a million more clean repeats would be needed to prove it"))
		Expect(soak.Outlook(stats.Weighing{CleanNeeded: 1})).To(Equal("1 more clean repeat would prove it"))
		Expect(soak.Outlook(stats.Weighing{Proven: true})).To(Equal("proven"))
		Expect(soak.Outlook(stats.Weighing{Refuted: true})).To(Equal("refuted"))
	})

	It("counts checkpoints of the reference and the trials alone", func() {
		var t soak.Tally
		bad := func(e soak.Entry) soak.Entry {
			e.Asked, e.Failed, e.Unseen = 2, []string{"gate"}, []string{"bell"}
			return e
		}
		t.Add(reference(), true)
		for _, e := range []soak.Entry{bad(clean(2)), bad(left(3)), bad(parted(4, 9)), clean(5)} {
			t.Add(e, false)
		}
		Expect(t.Checks).To(Equal(map[string]soak.Count{"gate": {Failed: 2}, "bell": {Unseen: 2}}))
		failed, unseen := t.Checkpoints()
		Expect([]int64{failed, unseen, t.Held}).To(Equal([]int64{2, 2, 2}))
		Expect(t.Whole).To(Equal([]int{1}))
	})

	It("does not grow with the repeats", func() {
		var t soak.Tally
		t.Add(reference(), true)
		for n := 2; n < 3000; n++ {
			t.Add(left(n), true)
		}
		Expect(t.Whole).To(HaveLen(soak.ShownMost))
		Expect(len(t.Reasons)).To(BeNumerically("<=", 20))
		Expect(t.LeftOut).To(BeEquivalentTo(2998))
	})
})
