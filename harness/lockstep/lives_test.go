package lockstep_test

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/lockstep"
	"latchproof/specs/console"
)

var _ = Describe("how long a run stays in lockstep", func() {
	s := small(9)
	lives := func(runs ...lockstep.Run) []lockstep.Life {
		GinkgoHelper()
		t := lockstep.NewTree(lockstep.Options{})
		for _, r := range runs {
			Expect(t.Add(r)).To(Succeed())
		}
		return t.Result().Lives
	}
	// seen is a run of 60 frames with pictures of those that it is told to.
	seen := func(name string, in func(f int) bool) lockstep.Run {
		m := lockstep.NewMemory(lockstep.Layout{W: 64, H: 64})
		for f := range 60 {
			if in(f) {
				Expect(m.Add(console.Frame(f), lockstep.Seen, s.draw(f, nothing))).To(Succeed())
			}
		}
		return lockstep.Run{Name: name, Trace: m, Reads: log(60), LastFrame: 59}
	}
	first := run("a", clean(s, 60, 60, nothing), log(60))

	It("is told of every run but the first, in their order", func() {
		got := lives(first, run("b", clean(s, 60, 60, nothing), log(60)), run("c", clean(s, 60, 20, vanish), log(60)))
		Expect(got).To(HaveLen(2))
		Expect(got[0]).To(Equal(lockstep.Life{Run: "b", Frame: 59}))
		Expect(got[1].Run).To(Equal("c"))
		Expect(got[1].Frame).To(BeEquivalentTo(20))
		Expect(got[1].Parted.Kind).To(Equal(lockstep.KindPicture))
	})

	It("is as far as both were seen", func() {
		got := lives(first, seen("b", func(f int) bool { return f < 45 && f != 30 }), seen("c", func(f int) bool { return f != 59 }))
		Expect(got[0]).To(Equal(lockstep.Life{Run: "b", Frame: 44}))
		Expect(got[1]).To(Equal(lockstep.Life{Run: "c", Frame: 58}))
	})
})

var _ = Describe("a run that is dark to the end", func() {
	It("stayed in lockstep up to the frame before, as far as is known", func() {
		s := newScene(4, 128, 120)
		film := func(name string, from int) lockstep.Run {
			m := lockstep.NewMemory(lockstep.Layout{W: 128, H: 120})
			c := newCard(4, uint64(from))
			for f := range 120 {
				p := s.draw(f, nothing)
				if f >= from {
					for i := range p.Y {
						p.Y[i] = 16
					}
					for i := range p.Cb {
						p.Cb[i], p.Cr[i] = 128, 128
					}
				}
				Expect(m.Add(console.Frame(f), lockstep.Seen, c.shoot(p, f))).To(Succeed())
			}
			return lockstep.Run{Name: name, Trace: m, LastFrame: 119}
		}
		rep, err := lockstep.Compare(film("a", 120), film("b", 70))
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Divergence).To(BeNil())
		Expect(rep.Last).To(BeEquivalentTo(69))
	})
})
