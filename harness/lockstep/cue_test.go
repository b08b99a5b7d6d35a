package lockstep_test

import (
	"math/rand/v2"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/lockstep"
	"latchproof/specs/console"
	"latchproof/specs/program"
)

// served is a log in which the board serves another state for the reads given.
func served(frames int, reads ...int) []lockstep.ReadInfo {
	out := log(frames)
	for _, r := range reads {
		out[r].State = program.State{P1: 0x80}
	}
	return out
}

var _ = Describe("a difference where the consoles were given other buttons", func() {
	const frames, parts = 110, 80
	s := lively(33, 128, 120)
	whole := func() lockstep.Run {
		return run("a", clip(s, quiet(), frames, func(f int) (int, change) { return f, nothing }), log(frames))
	}
	// behind is a run whose sprites are a frame behind in frames [from, to), with
	// the status line in time, as after a read that was answered a frame later;
	// and which parts for good later.
	behind := func(from, to int, reads []lockstep.ReadInfo) lockstep.Run {
		m := lockstep.NewMemory(lockstep.Layout{W: s.w, H: s.h})
		for f := range frames {
			p := s.draw(f, nothing)
			if f >= parts {
				p = s.draw(f, vanish)
			}
			if f >= from && f < to {
				q := s.draw(f-1, nothing)
				copy(q.Y[:16*s.w], p.Y[:16*s.w])
				copy(q.Cb[:16*s.w], p.Cb[:16*s.w])
				copy(q.Cr[:16*s.w], p.Cr[:16*s.w])
				p = q
			}
			Expect(m.Add(console.Frame(f), lockstep.Seen, p)).To(Succeed())
		}
		return run("b", m, reads)
	}
	compare := func(b lockstep.Run) lockstep.Report {
		rep, err := lockstep.Compare(whole(), b)
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Divergence).NotTo(BeNil())
		return rep
	}

	It("is where they part, though the pictures agree again and part for good later", func() {
		lengths := []int{3, 6, 20}
		if slow {
			lengths = lengths[:1]
		}
		for _, n := range lengths {
			for late := range 3 { // frames until the game shows what it read
				rep := compare(behind(40+late, 40+late+n, served(frames, 40)))
				Expect(rep.Divergence.Kind).To(Equal(lockstep.KindInput))
				Expect(rep.Divergence.Frame).To(BeEquivalentTo(40+late), "%d frames: %s", n, rep.Divergence.Why)
				Expect(rep.Divergence.Read).To(BeEquivalentTo(40))
			}
		}
	})
	It("may follow long after the read that was missed: when the buttons next change", func() {
		rep := compare(behind(40, 46, missed(frames, 33)))
		Expect(rep.Divergence.Frame).To(BeEquivalentTo(40), rep.Divergence.Why)
		Expect(rep.Divergence.Read).To(BeEquivalentTo(33))
	})
	It("is trouble of the capture when they were given the same, or the others later", func() {
		for _, reads := range [][]lockstep.ReadInfo{log(frames), served(frames, 70), served(frames, parts)} {
			rep := compare(behind(40, 46, reads))
			Expect(rep.Divergence.Frame).To(BeEquivalentTo(parts), rep.Divergence.Why)
			Expect(rep.Suspects).NotTo(BeEmpty())
		}
	})
	It("may be one picture, when that does not look like trouble", func() {
		play := func(reads []lockstep.ReadInfo) lockstep.Report {
			return compare(run("b", clip(s, quiet(), frames, func(f int) (int, change) {
				if f == 40 || f >= parts {
					return f, stepDown
				}
				return f, nothing
			}), reads))
		}
		Expect(play(served(frames, 40)).Divergence.Frame).To(BeEquivalentTo(40))
		Expect(play(served(frames, 60)).Divergence.Frame).To(BeEquivalentTo(parts))
		Expect(play(log(frames)).Divergence.Frame).To(BeEquivalentTo(parts))
	})
	It("is not one torn picture", func() {
		rep := compare(behind(40, 41, served(frames, 40)))
		Expect(rep.Divergence.Frame).To(BeEquivalentTo(parts), rep.Divergence.Why)
	})
})

var _ = Describe("more latch pulses in one log alone", func() {
	const frames = 60
	s := lively(33, 128, 120)
	twice := func() []lockstep.ReadInfo {
		reads := log(frames)
		reads[4].Pulses, reads[4].Clocks = 2, 16
		return reads
	}
	play := func(at int, flash ...int) lockstep.Run {
		return run("b", clip(s, quiet(), frames, func(f int) (int, change) {
			for _, x := range flash {
				if f == x {
					return f, vanish
				}
			}
			if f >= at {
				return f, vanish
			}
			return f, nothing
		}), twice())
	}
	const pulses = "read 4 in frame 4 has 1 latch pulses in a and 2 in b"
	a := run("a", clip(s, quiet(), frames, func(f int) (int, change) { return f, nothing }), log(frames))

	It("confirm no difference of the pictures, and are told", func() {
		rep, err := lockstep.Compare(a, play(frames, 30, 33))
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Divergence).To(BeNil())
		Expect(rep.Suspects).To(HaveLen(2))
		Expect(rep.Warnings).To(ConsistOf(pulses + "; the console was given the same buttons again"))
	})
	It("explain none", func() {
		rep, err := lockstep.Compare(a, play(30))
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Divergence).NotTo(BeNil())
		Expect(rep.Divergence.Kind).To(Equal(lockstep.KindPicture))
		Expect(rep.Divergence.Frame).To(BeEquivalentTo(30))
		Expect(rep.Divergence.Why).To(HaveSuffix("; every read before it gave the same buttons, but " + pulses))
	})
	It("with other clock pulses for each are another input", func() {
		b := play(30)
		b.Reads[4].Clocks = 17
		rep, err := lockstep.Compare(a, b)
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Divergence.Kind).To(Equal(lockstep.KindInput))
	})
})

var _ = Describe("a torn picture two frames before the runs part", func() {
	// Upper part old, lower part new; the picture after it is whole; then one run
	// shows another scene.
	It("is not the first frame", func() {
		const frames, parts = 60, 40
		for seed := range uint64(6) {
			s, other := lively(seed, 128, 120), lively(seed+100, 128, 120)
			s.scroll = 1 + int(seed%2)
			a := clip(s, quiet(), frames, func(f int) (int, change) { return f, nothing })
			m := lockstep.NewMemory(lockstep.Layout{W: s.w, H: s.h})
			for f := range frames {
				p := s.draw(f, nothing)
				if f == parts-2 {
					p = s.draw(f-1, nothing)
					tear(p, s.draw(f, nothing), 48)
				}
				if f >= parts {
					p = other.draw(f, nothing)
				}
				Expect(m.Add(console.Frame(f), lockstep.Seen, p)).To(Succeed())
			}
			for _, reads := range [][]lockstep.ReadInfo{log(frames), served(frames, parts)} {
				rep, err := lockstep.Compare(run("a", a, log(frames)), run("b", m, reads))
				Expect(err).NotTo(HaveOccurred())
				Expect(rep.Divergence).NotTo(BeNil(), "seed %d: %+v", seed, rep.Suspects)
				Expect(rep.Divergence.Frame).To(BeEquivalentTo(parts), "seed %d: %s", seed, rep.Divergence.Why)
				Expect(rep.Divergence.Since).To(BeEquivalentTo(parts))
			}
		}
	})
})

var _ = Describe("a damaged picture on the very frame where the runs part", func() {
	const frames, parts = 80, 50
	s, other := lively(33, 128, 120), lively(34, 128, 120)
	play := func(hurt ...int) lockstep.Report {
		m := lockstep.NewMemory(lockstep.Layout{W: s.w, H: s.h})
		for f := range frames {
			p := s.draw(f, nothing)
			if f >= parts { // the lower part is of another scene
				tear(p, other.draw(f, nothing), 72)
			}
			for _, x := range hurt {
				if f == x {
					garbage(p, rand.New(rand.NewPCG(uint64(f), 3)), 8)
				}
			}
			Expect(m.Add(console.Frame(f), lockstep.Seen, p)).To(Succeed())
		}
		a := clip(s, quiet(), frames, func(f int) (int, change) { return f, nothing })
		rep, err := lockstep.Compare(run("a", a, log(frames)), run("b", m, log(frames)))
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Divergence).NotTo(BeNil())
		return rep
	}
	It("is not taken for whole where others were damaged before: the next one is the first, and may not be", func() {
		d := play(20, 30, parts).Divergence
		Expect(d.Frame).To(BeEquivalentTo(parts + 1))
		Expect(d.Since).To(BeEquivalentTo(parts))
	})
	It("leaves a whole one the first", func() {
		Expect(play(20, 30).Divergence.Frame).To(BeEquivalentTo(parts))
	})
})

var _ = Describe("brightness that drifts fast", func() {
	// Both runs' brightness walks at random by 0.85 levels a frame, as one of 10
	// levels RMS with a memory of 5 s, and jumps once by 7.
	const frames = 200
	walk := func(s *scene, run uint64, at int) lockstep.Run {
		k, r := quiet(), rand.New(rand.NewPCG(run, 17))
		m := lockstep.NewMemory(lockstep.Layout{W: s.w, H: s.h})
		for f := range frames {
			if k.offset += r.NormFloat64() * 0.85; f == 60 && run > 1 {
				k.offset += 7
			}
			c := nothing
			if f >= at {
				c = stepOne
			}
			Expect(m.Add(console.Frame(f), lockstep.Seen, k.shoot(s.draw(f, c), f))).To(Succeed())
		}
		return lockstep.Run{Name: string(rune('a' + run)), Trace: m, Reads: log(frames)}
	}
	It("parts no runs and hides no sprite that stands one pixel further", func() {
		seeds := uint64(3)
		if slow {
			seeds = 1
		}
		for seed := range seeds {
			s := lively(seed, 128, 120)
			a := walk(s, 1, frames)
			rep, err := lockstep.Compare(a, walk(s, 2+seed, frames))
			Expect(err).NotTo(HaveOccurred())
			Expect(rep.Divergence).To(BeNil())
			Expect(rep.Suspects).To(BeEmpty())
			rep, err = lockstep.Compare(a, walk(s, 2+seed, 150))
			Expect(err).NotTo(HaveOccurred())
			Expect(rep.Divergence).NotTo(BeNil())
			Expect(rep.Divergence.Frame).To(BeEquivalentTo(150))
		}
	})
	It("is not all that is brighter: 24 levels at once part them", func() {
		s := lively(3, 128, 120)
		rep, err := lockstep.Compare(run("a", brighter(s, 60, 60), log(60)), run("b", brighter(s, 60, 30), log(60)))
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Divergence).NotTo(BeNil())
		Expect(rep.Divergence.Frame).To(BeEquivalentTo(30))
	})
})

// brighter films a scene that is 24 levels brighter from a frame on.
func brighter(s *scene, frames, at int) *lockstep.Memory {
	k, m := quiet(), lockstep.NewMemory(lockstep.Layout{W: s.w, H: s.h})
	for f := range frames {
		if f >= at {
			k.offset = 24
		}
		Expect(m.Add(console.Frame(f), lockstep.Seen, k.shoot(s.draw(f, nothing), f))).To(Succeed())
	}
	return m
}
