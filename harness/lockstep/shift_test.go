package lockstep_test

import (
	"fmt"
	"math/rand/v2"
	"sync/atomic"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/lockstep"
	"latchproof/specs/console"
)

// clip is a film shot by showing for every frame what show says: a frame of the
// scene and what is otherwise. What show gives below 0 is not seen.
func clip(s *scene, k *card, frames int, show func(f int) (int, change)) *lockstep.Memory {
	m := lockstep.NewMemory(lockstep.Layout{W: s.w, H: s.h})
	for f := range frames {
		g, c := show(f)
		if g < 0 {
			continue
		}
		if err := m.Add(console.Frame(f), lockstep.Seen, k.shoot(s.draw(g, c), f)); err != nil {
			panic(err)
		}
	}
	return m
}

// quiet is a card without any trouble.
func quiet() *card { return &card{gain: 1, zoom: 1} }

// lagged is a log in which the console does not read in frames [f, f+n).
func lagged(frames, f, n int) (out []lockstep.ReadInfo) {
	for _, r := range log(frames) {
		if r.Frame >= console.Frame(f) {
			r.Frame += console.Frame(n)
		}
		if r.Frame < console.Frame(frames) {
			out = append(out, r)
		}
	}
	return out
}

// lively is a scene in which something always moves.
func lively(seed uint64, w, h int) *scene {
	s := newScene(seed, w, h)
	for i := range s.sprites {
		s.sprites[i].vx = 1 + i%2
		s.sprites[i].vy = 1
	}
	return s
}

var _ = Describe("a shift", func() {
	late := func(at, k int) func(int) (int, change) {
		return func(f int) (int, change) {
			if f < at {
				return f, nothing
			}
			return max(f-k, 0), nothing
		}
	}
	s := lively(21, 64, 64)

	It("of the card is found with its size, and stays", func() {
		rep, err := lockstep.Compare(run("a", clip(s, quiet(), 200, late(200, 0)), log(200)), run("b", clip(s, quiet(), 200, late(50, 3)), log(200)))
		Expect(err).NotTo(HaveOccurred())
		d := rep.Divergence
		Expect(d).NotTo(BeNil())
		Expect(d.Kind).To(Equal(lockstep.KindShift), d.Why)
		Expect(d.Frame).To(BeEquivalentTo(50))
		Expect(d.Shift).To(Equal(3))
		Expect(d.Stays).To(BeTrue())
		Expect(d.Clocks).To(BeFalse())
		Expect(d.Part).To(Equal(lockstep.PartCard))
		Expect(d.Why).To(Equal("from frame 50 on b shows the pictures of a 3 frames late, to the end; its reads keep their frames, so the time that the card takes changed"))
	})

	It("of the console is told by its reads", func() {
		for _, k := range []int{1, 2, 7} {
			rep, err := lockstep.Compare(run("a", clip(s, quiet(), 200, late(200, 0)), log(200)), run("b", clip(s, quiet(), 200, func(f int) (int, change) {
				switch {
				case f < 50:
					return f, nothing
				case f < 50+k:
					return 49, nothing
				}
				return f - k, nothing
			}), lagged(200, 50, k)))
			Expect(err).NotTo(HaveOccurred())
			d := rep.Divergence
			Expect(d.Kind).To(Equal(lockstep.KindShift), d.Why)
			Expect(d.Frame).To(BeEquivalentTo(50))
			Expect(d.Shift).To(Equal(k))
			Expect(d.Stays).To(BeTrue())
			Expect(d.Part).To(Equal(lockstep.PartConsole))
			Expect(d.Why).To(ContainSubstring("; its reads are as much so from read 50 on: the console of b lagged by "))
		}
	})

	It("of the first run's console makes the second early", func() {
		rep, err := lockstep.Compare(run("a", clip(s, quiet(), 200, late(80, 1)), lagged(200, 80, 1)), run("b", clip(s, quiet(), 200, late(200, 0)), log(200)))
		Expect(err).NotTo(HaveOccurred())
		d := rep.Divergence
		Expect(d.Kind).To(Equal(lockstep.KindShift), d.Why)
		Expect(d.Shift).To(Equal(-1))
		Expect(d.Frame).To(BeEquivalentTo(80))
		Expect(d.Part).To(Equal(lockstep.PartConsole))
		Expect(d.Why).To(ContainSubstring("b shows the pictures of a one frame early, to the end"))
		Expect(d.Why).To(ContainSubstring("the console of a lagged by one frame"))
	})

	It("that ends, or changes, says so", func() {
		rep, err := lockstep.Compare(run("a", clip(s, quiet(), 300, late(300, 0)), log(300)), run("b", clip(s, quiet(), 300, func(f int) (int, change) {
			switch {
			case f < 60:
				return f, nothing
			case f < 140:
				return f - 2, nothing
			case f < 220:
				return f - 5, nothing
			}
			return f, nothing
		}), log(300)))
		Expect(err).NotTo(HaveOccurred())
		d := rep.Divergence
		Expect(d.Kind).To(Equal(lockstep.KindShift), d.Why)
		Expect(d.Frame).To(BeEquivalentTo(60))
		Expect(d.Shift).To(Equal(2))
		Expect(d.Stays).To(BeFalse())
		Expect(d.Why).To(ContainSubstring("; from frame 140 on it is 5 frames late; from frame 220 on both are together again"))
	})

	It("from the first frame on is laid to the clocks", func() {
		rep, err := lockstep.Compare(run("a", clip(s, quiet(), 200, late(200, 0)), log(200)), run("b", clip(s, quiet(), 200, func(f int) (int, change) { return f + 4, nothing }), log(200)))
		Expect(err).NotTo(HaveOccurred())
		d := rep.Divergence
		Expect(d.Kind).To(Equal(lockstep.KindShift), d.Why)
		Expect(d.Frame).To(BeEquivalentTo(0))
		Expect(d.Shift).To(Equal(-4))
		Expect(d.Clocks).To(BeTrue())
		Expect(d.Part).To(Equal(lockstep.PartUnknown))
		Expect(rep.Warnings).To(ContainElement("a and b agree only when one is taken 4 frames later: the frame clock of one of them is wrong"))
	})

	It("after a still start begins with the first picture that differs", func() {
		still := func(k int) func(int) (int, change) {
			return func(f int) (int, change) { return max(70+k, f) - k, nothing }
		}
		rep, err := lockstep.Compare(run("a", clip(s, quiet(), 200, still(0)), log(200)), run("b", clip(s, quiet(), 200, func(f int) (int, change) { return max(70, f-1), nothing }), log(200)))
		Expect(err).NotTo(HaveOccurred())
		d := rep.Divergence
		Expect(d.Kind).To(Equal(lockstep.KindShift), d.Why)
		Expect(d.Frame).To(BeEquivalentTo(71))
		Expect(d.Shift).To(Equal(1))
		Expect(d.Clocks).To(BeTrue())
	})

	It("is found where the picture moves once in 16 frames only", func() {
		slow := func(f int) int { return f / 16 * 16 }
		rep, err := lockstep.Compare(
			run("a", clip(s, quiet(), 500, func(f int) (int, change) { return slow(f), nothing }), log(500)),
			run("b", clip(s, quiet(), 500, func(f int) (int, change) {
				if f < 100 {
					return slow(f), nothing
				}
				return slow(f - 1), nothing
			}), log(500)))
		Expect(err).NotTo(HaveOccurred())
		d := rep.Divergence
		Expect(d).NotTo(BeNil())
		Expect(d.Kind).To(Equal(lockstep.KindShift), d.Why)
		Expect(d.Frame).To(BeEquivalentTo(112))
		Expect(d.Shift).To(Equal(1))
		Expect(rep.Suspects).To(BeEmpty())
	})

	It("is not looked for without end where a scene of two pictures flickers", func() {
		// Three of eight pictures are the other one: too few to part, and as good a
		// reason for every odd shift as against it.
		if slow {
			Skip("too slow under the race detector; nothing here is concurrent")
		}
		const frames = 1000
		a := clip(s, quiet(), frames, func(f int) (int, change) { return f % 2, nothing })
		b := clip(s, quiet(), frames, func(f int) (int, change) {
			if f%8 == 0 || f%8 == 1 || f%8 == 3 {
				return 1 - f%2, nothing
			}
			return f % 2, nothing
		})
		rep, tries, err := lockstep.Tries(run("a", a, log(frames)), run("b", b, log(frames)))
		Expect(err).NotTo(HaveOccurred())
		GinkgoWriter.Printf("%d tries, %d suspects, %+v\n", tries, len(rep.Suspects), rep.Divergence)
		Expect(len(rep.Suspects)).To(BeNumerically(">", 100))
		// 250,000 and 16 a frame, and what the last search had begun.
		Expect(tries).To(BeNumerically("<=", 250_000+16*frames+241*900))
		Expect(tries).To(BeNumerically(">", 250_000))
		Expect(rep.Warnings).To(ContainElement(HavePrefix("the pictures differ now and again so often that from frame ")))
	})

	It("is not seen in a missed read, after which some of the game goes on in its own time", func() {
		// The sprites walk a frame later; the digits do not.
		k := quiet()
		m := lockstep.NewMemory(lockstep.Layout{W: 64, H: 64})
		for f := range 200 {
			p := s.draw(f, nothing)
			if f >= 42 {
				q := s.draw(f-1, nothing)
				copy(q.Y[:16*64], p.Y[:16*64])
				p = q
			}
			Expect(m.Add(console.Frame(f), lockstep.Seen, k.shoot(p, f))).To(Succeed())
		}
		rep, err := lockstep.Compare(run("a", clip(s, quiet(), 200, late(200, 0)), log(200)), run("b", m, missed(200, 41)))
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Divergence.Kind).To(Equal(lockstep.KindInput), rep.Divergence.Why)
		Expect(rep.Divergence.Frame).To(BeEquivalentTo(42))
		Expect(rep.Divergence.Part).To(Equal(lockstep.PartBoard))
	})

	It("is found in seeded cases with noise, codec, unseen frames and pictures given again", func() {
		cases := 24
		if slow {
			cases = 2
		}
		wrong := make([]string, cases)
		var locked atomic.Int64
		each(cases, func(i int) {
			seed := base + 70000 + uint64(i)
			r := rand.New(rand.NewPCG(seed, 8))
			s := lively(seed, 64, 64)
			k := 1 + r.IntN(lockstep.MaxShift)
			if r.IntN(2) == 0 {
				k = 1 + r.IntN(4)
			}
			sign := 1 - 2*r.IntN(2)
			at := 30 + r.IntN(20)
			frames := at + 2*k + 60
			ka, kb := newCard(seed, 0), newCard(seed, 1)
			shoot := func(c *card, k int) *lockstep.Memory {
				return clip(s, c, frames, func(f int) (int, change) {
					if r.IntN(20) == 0 && f != at {
						return -1, nothing
					}
					if f >= at {
						f = max(f-k, 0)
					}
					return f, nothing
				})
			}
			a, b := shoot(ka, 0), shoot(kb, k*sign)
			ra := lockstep.Run{Name: "a", Trace: a, Reads: log(frames)}
			rb := lockstep.Run{Name: "b", Trace: b, Reads: log(frames)}
			rep, err := lockstep.Compare(ra, rb)
			what := fmt.Sprintf("case %d (seed %d): shift %d at %d, sigma %v quality %d: ", i, seed, k*sign, at, ka.sigma, ka.quality)
			d := rep.Divergence
			switch {
			case err != nil:
				wrong[i] = what + err.Error()
			case d == nil:
				wrong[i] = what + fmt.Sprintf("not found; suspects %v", rep.Suspects)
			case d.Frame != console.Frame(at), d.Kind != lockstep.KindShift, d.Shift != k*sign:
				wrong[i] = what + fmt.Sprintf("found at %d %s %d: %s", d.Frame, d.Kind, d.Shift, d.Why)
			default:
				locked.Add(1)
			}
		})
		GinkgoWriter.Printf("%d of %d locked\n", locked.Load(), cases)
		Expect(names(wrong)).To(BeEmpty())
	})
})

// A card half a frame late whose pictures begin to be of the frame before only
// after the last read (simulated bench, seed 7f5a5750312ea181).
var _ = Describe("the last pictures of two runs", func() {
	// b shows the frame before from frame at on, and nothing of the blind frames
	// before.
	runs := func(frames, at, blind, last int) (lockstep.Run, lockstep.Run) {
		s := lively(31, 128, 96)
		a := run("a", clip(s, newCard(31, 1), frames, func(f int) (int, change) { return f, nothing }), log(last+1))
		b := run("b", clip(s, newCard(31, 2), frames, func(f int) (int, change) {
			switch {
			case f >= at:
				return f - 1, nothing
			case f >= at-blind:
				return -1, nothing
			}
			return f, nothing
		}), log(last+1))
		a.LastFrame, b.LastFrame = console.Frame(last), console.Frame(last)
		return a, b
	}

	DescribeTable("tell a shift though they are few, and come after the last read",
		func(frames, at, blind, last int) {
			a, b := runs(frames, at, blind, last)
			rep, err := lockstep.Compare(a, b)
			Expect(err).NotTo(HaveOccurred())
			Expect(rep.Divergence).NotTo(BeNil())
			d := rep.Divergence
			Expect(d.Kind).To(Equal(lockstep.KindShift))
			Expect([]any{d.Shift, d.Frame, d.Since, d.Part}).To(Equal([]any{1, console.Frame(at), console.Frame(at - blind), lockstep.PartCard}))
			Expect(rep.Frames).To(BeEquivalentTo(last + 1))
		},
		Entry("eight pictures", 98, 90, 13, 82),
		Entry("four pictures", 98, 94, 13, 82),
		Entry("three pictures within the reads", 98, 95, 0, 97),
	)

	It("leave open what two pictures or fewer show", func() {
		a, b := runs(98, 96, 13, 82)
		rep, err := lockstep.Compare(a, b)
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Divergence).To(BeNil())
	})

	It("are not looked at when one run ended early or on another frame", func() {
		a, b := runs(98, 90, 0, 82)
		b.EndedEarly = true
		rep, err := lockstep.Compare(a, b)
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Divergence).To(BeNil())
		a, b = runs(98, 90, 0, 82)
		b.LastFrame++
		rep, err = lockstep.Compare(a, b)
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Divergence).To(BeNil())
	})
})
