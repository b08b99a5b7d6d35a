package lockstep_test

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/lockstep"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

var _ = Describe("a run that shows nothing for a while", func() {
	const frames = 150
	// play shoots the scene, dark in [from, to), with the change from a frame on.
	play := func(run uint64, from, to, at int, what change) lockstep.Run {
		s, card := newScene(4, 128, 120), newCard(4, run)
		m := lockstep.NewMemory(lockstep.Layout{W: 128, H: 120})
		dark := screen.New(128, 120)
		for i := range dark.Cb {
			dark.Y[i], dark.Cb[i], dark.Cr[i] = 16, 128, 128
		}
		for f := range frames {
			now := nothing
			if f >= at {
				now = what
			}
			shown := s.draw(f, now)
			if f >= from && f < to {
				shown = dark
			}
			Expect(m.Add(console.Frame(f), lockstep.Seen, card.shoot(shown, f))).To(Succeed())
		}
		return lockstep.Run{Name: string(rune('a' + run)), Trace: m, LastFrame: frames - 1}
	}
	whole := func() lockstep.Run { return play(0, 0, 0, frames, nothing) }

	It("is no divergence when the pictures then go on together, and a warning says what was dark", func() {
		rep, err := lockstep.Compare(whole(), play(1, 60, 90, frames, nothing))
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Divergence).To(BeNil())
		Expect(rep.Warnings).To(ContainElement("b shows nothing from frame 60 to 89: the signal was lost or the console's screen was empty, so nothing is said of these frames"))
		Expect(rep.Unseen).To(Equal(int64(30)))
	})
	It("may be unseen in part: what lies between dark pictures was dark", func() {
		a := play(1, 60, 80, 80, vanish)
		b := whole()
		m := lockstep.NewMemory(lockstep.Layout{W: 128, H: 120})
		s, card := newScene(4, 128, 120), newCard(4, 0)
		for f := range frames {
			if f < 63 || f > 75 {
				Expect(m.Add(console.Frame(f), lockstep.Seen, card.shoot(s.draw(f, nothing), f))).To(Succeed())
			}
		}
		b.Trace = m
		rep, err := lockstep.Compare(a, b)
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Warnings).To(ContainElement("b shows nothing from frame 60 to 79: the signal was lost or the console's screen was empty, so nothing is said of these frames"))
		Expect(rep.Divergence).NotTo(BeNil())
		Expect(rep.Divergence.Frame).To(BeEquivalentTo(80))
		Expect(rep.Divergence.Since).To(BeEquivalentTo(60))
	})
	It("tells nothing of gain and offset, though most of the first pictures are dark", func() {
		b := play(1, 12, 40, 80, vanish)
		m := lockstep.NewMemory(lockstep.Layout{W: 128, H: 120})
		s, card := newScene(4, 128, 120), newCard(4, 0)
		for f := 8; f < frames; f++ {
			Expect(m.Add(console.Frame(f), lockstep.Seen, card.shoot(s.draw(f, nothing), f))).To(Succeed())
		}
		a := whole()
		a.Trace = m
		rep, err := lockstep.Compare(a, b)
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Warnings).To(ContainElement(HavePrefix("b shows nothing from frame 12 to 39: ")))
		Expect(rep.Divergence).NotTo(BeNil())
		Expect(rep.Divergence.Frame).To(BeEquivalentTo(80))
	})

	It("is none either when it lasts to the end", func() {
		rep, err := lockstep.Compare(play(1, 120, frames, frames, nothing), whole())
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Divergence).To(BeNil())
		Expect(rep.Warnings).To(ContainElement(HavePrefix("b shows nothing from frame 120 to the end: ")))
		Expect(rep.Compared).To(Equal(int64(120)))
	})
	It("hides no divergence that begins in the dark: it may have begun as early as that", func() {
		rep, err := lockstep.Compare(whole(), play(1, 60, 90, 70, vanish))
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Divergence).NotTo(BeNil())
		Expect(rep.Divergence.Frame).To(Equal(console.Frame(90)))
		Expect(rep.Divergence.Since).To(Equal(console.Frame(60)))
	})
	It("hides none that begins later", func() {
		rep, err := lockstep.Compare(whole(), play(1, 60, 90, 120, vanish))
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Divergence).NotTo(BeNil())
		Expect(rep.Divergence.Frame).To(Equal(console.Frame(120)))
		Expect(rep.Divergence.Since).To(Equal(console.Frame(120)))
	})
})
