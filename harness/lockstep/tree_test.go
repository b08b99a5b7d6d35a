package lockstep_test

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/lockstep"
	"latchproof/specs/console"
	"latchproof/specs/program"
)

// clean films a scene without any noise.
func clean(s *scene, frames, at int, c change) *lockstep.Memory {
	return film(s, &card{gain: 1, zoom: 1}, frames, at, c)
}

// log makes a read log: one read a frame, the state following the read number.
func log(frames int) (out []lockstep.ReadInfo) {
	for f := range frames {
		out = append(out, lockstep.ReadInfo{
			Read: program.Read(f), Frame: console.Frame(f), State: program.State{P1: uint16(f / 10 % 4)}, Pulses: 1, Clocks: 8,
		})
	}
	return out
}

// missed is a log whose board did not see read r.
func missed(frames, r int) []lockstep.ReadInfo {
	out := log(frames)
	out = append(out[:r:r], out[r+1:]...)
	for i := r; i < len(out); i++ {
		out[i].Read--
		out[i].State = program.State{P1: uint16(int(out[i].Read) / 10 % 4)}
	}
	return out
}

func small(seed uint64) *scene { return newScene(seed, 64, 64) }

func run(name string, m *lockstep.Memory, reads []lockstep.ReadInfo) lockstep.Run {
	return lockstep.Run{Name: name, Trace: m, Reads: reads, LastFrame: m.Len() - 1}
}

var _ = Describe("comparing", func() {
	s := small(7)

	It("names a missed read and the frame where the picture first differs", func() {
		rep, err := lockstep.Compare(run("repeat 1", clean(s, 60, 60, nothing), log(60)), run("repeat 3", clean(s, 60, 42, stepOne), missed(60, 41)))
		Expect(err).NotTo(HaveOccurred())
		d := rep.Divergence
		Expect(d.Kind).To(Equal(lockstep.KindInput))
		Expect(d.Frame).To(BeEquivalentTo(42))
		Expect(d.Read).To(BeEquivalentTo(41))
		Expect(d.Why).To(Equal("repeat 3 missed read 41; the board served 0x01 one frame late; the picture first differs at frame 42"))
	})

	It("names an extra read", func() {
		rep, err := lockstep.Compare(run("repeat 1", clean(s, 60, 60, nothing), missed(60, 41)), run("repeat 2", clean(s, 60, 45, stepOne), log(60)))
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Divergence.Kind).To(Equal(lockstep.KindInput))
		Expect(rep.Divergence.Why).To(Equal("repeat 2 has an extra read 41; the board served 0x01 one frame early; the picture first differs at frame 45"))
	})

	DescribeTable("names what else differs in a read",
		func(change func(*lockstep.ReadInfo), why string) {
			reads := log(60)
			change(&reads[20])
			rep, err := lockstep.Compare(run("a", clean(s, 60, 60, nothing), log(60)), run("b", clean(s, 60, 20, stepOne), reads))
			Expect(err).NotTo(HaveOccurred())
			Expect(rep.Divergence.Kind).To(Equal(lockstep.KindInput))
			Expect(rep.Divergence.Read).To(BeEquivalentTo(20))
			Expect(rep.Divergence.Why).To(Equal(why + "; the picture first differs at frame 20"))
		},
		Entry("state", func(r *lockstep.ReadInfo) { r.State.P1 = 0x80 }, "read 20 in frame 20 was served otherwise: 0x02 in a, 0x80 in b"),
		Entry("port 2", func(r *lockstep.ReadInfo) { r.State.P2 = 1 }, "read 20 in frame 20 was served otherwise: 0x02 in a, 0x02 and p2 0x01 in b"),
		Entry("clocks", func(r *lockstep.ReadInfo) { r.Clocks = 9 }, "read 20 in frame 20 has 8 clock pulses in a and 9 in b"),
		Entry("clocks2", func(r *lockstep.ReadInfo) { r.Clocks2 = 9 }, "read 20 in frame 20 has 0 clock pulses on port 2 in a and 9 in b"),
		Entry("underrun", func(r *lockstep.ReadInfo) { r.Underrun = true }, "b had no program data for read 20 in frame 20"),
	)

	It("keeps lockstep, with a warning, when the reads differ and no picture does", func() {
		reads := log(60)
		reads[20].Clocks = 9
		rep, err := lockstep.Compare(run("a", clean(s, 60, 60, nothing), log(60)), run("b", clean(s, 60, 60, nothing), reads))
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Lockstep()).To(BeTrue())
		Expect(rep.Warnings).To(Equal([]string{"read 20 in frame 20 has 8 clock pulses in a and 9 in b; the pictures do not differ for it"}))
	})

	It("says picture when the reads before are the same", func() {
		rep, err := lockstep.Compare(run("a", clean(s, 60, 60, nothing), log(60)), run("b", clean(s, 60, 30, digit), missed(60, 41)))
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Divergence.Kind).To(Equal(lockstep.KindPicture))
		Expect(rep.Divergence.Frame).To(BeEquivalentTo(30))
		Expect(rep.Divergence.Read).To(BeEquivalentTo(30))
		Expect(rep.Divergence.Region.In(rect(8, 0, 16, 16))).To(BeTrue(), "%v", rep.Divergence.Region)
		Expect(rep.Warnings).To(ContainElement(HavePrefix("after the pictures differ: b missed read 41")))
	})

	It("counts a difference that is gone at once as a suspect only", func() {
		m := lockstep.NewMemory(lockstep.Layout{W: 64, H: 64})
		for f := range 60 {
			c := nothing
			if f == 30 {
				c = vanish
			}
			Expect(m.Add(console.Frame(f), lockstep.Seen, s.draw(f, c))).To(Succeed())
		}
		rep, err := lockstep.Compare(run("a", clean(s, 60, 60, nothing), log(60)), run("b", m, log(60)))
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Lockstep()).To(BeTrue())
		Expect(rep.Suspects).To(HaveLen(1))
		Expect(rep.Suspects[0].Frame).To(BeEquivalentTo(30))
	})

	It("counts one of seven frames, none of which looks like trouble, though the runs agree again", func() {
		s, other := lively(33, 128, 120), lively(34, 128, 120)
		b := clip(s, quiet(), 90, func(f int) (int, change) { return f, nothing })
		m := lockstep.NewMemory(lockstep.Layout{W: s.w, H: s.h})
		for f := range 90 {
			p := s.draw(f, nothing)
			if f >= 30 && f < 37 {
				p.Y = other.draw(f, nothing).Y
			}
			Expect(m.Add(console.Frame(f), lockstep.Seen, p)).To(Succeed())
		}
		rep, err := lockstep.Compare(run("a", b, log(90)), run("b", m, log(90)))
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Divergence).NotTo(BeNil())
		Expect(rep.Divergence.Frame).To(BeEquivalentTo(30))
		Expect(rep.Divergence.Why).To(ContainSubstring("from frame 37 on they agree again"))
	})

	It("says since when a divergence may be when frames were not seen", func() {
		m := lockstep.NewMemory(lockstep.Layout{W: 64, H: 64})
		for f := range 60 {
			c := nothing
			if f >= 28 {
				c = vanish
			}
			switch {
			case f >= 27 && f < 30:
			case f == 40:
				Expect(m.Add(console.Frame(f), lockstep.Unsure, s.draw(f, c))).To(Succeed())
			default:
				Expect(m.Add(console.Frame(f), lockstep.Seen, s.draw(f, c))).To(Succeed())
			}
		}
		rep, err := lockstep.Compare(run("a", clean(s, 60, 60, nothing), log(60)), run("b", m, log(60)))
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Frames).To(BeEquivalentTo(60))
		Expect(rep.Unseen).To(BeEquivalentTo(4))
		Expect(rep.Divergence.Frame).To(BeEquivalentTo(30))
		Expect(rep.Divergence.Since).To(BeEquivalentTo(27))
		Expect(rep.Divergence.Why).To(HaveSuffix("; frames 27 to 29 were not seen in both and may differ already"))
	})

	It("finds a run that ends early", func() {
		short := run("b", clean(s, 40, 40, nothing), log(40))
		short.EndedEarly, short.EndWhy = true, "the cable was unplugged"
		rep, err := lockstep.Compare(run("a", clean(s, 60, 60, nothing), log(60)), short)
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Divergence.Kind).To(Equal(lockstep.KindEnd))
		Expect(rep.Divergence.Frame).To(BeEquivalentTo(40))
		Expect(rep.Divergence.Why).To(Equal("b ends at frame 39, a goes on to frame 59: the cable was unplugged"))
	})

	It("lets whole runs end up to 30 frames apart, and no more", func() {
		for frames, same := range map[int]bool{40: true, 39: false} {
			rep, err := lockstep.Compare(run("a", clean(s, 70, 70, nothing), log(70)), run("b", clean(s, frames, frames, nothing), log(frames)))
			Expect(err).NotTo(HaveOccurred())
			Expect(rep.Lockstep()).To(Equal(same), "%d frames", frames)
		}
	})

	It("says when nothing can be said", func() {
		m := lockstep.NewMemory(lockstep.Layout{W: 64, H: 64})
		Expect(m.Add(59, lockstep.Unseen, nil)).To(Succeed())
		_, err := lockstep.Compare(run("a", clean(s, 60, 60, nothing), log(60)), run("b", m, log(60)))
		Expect(err).To(MatchError(lockstep.ErrUnseen))
		_, err = lockstep.Compare(run("a", clean(s, 9, 9, nothing), nil), run("b", clean(newScene(7, 64, 72), 9, 9, nothing), nil))
		Expect(err).To(MatchError(lockstep.ErrLayout))
	})
})

var _ = Describe("the tree of families", func() {
	It("puts runs that part at the same place the same way together", func() {
		s := small(9)
		made := []struct {
			at int
			c  change
		}{{60, nothing}, {20, vanish}, {60, nothing}, {20, vanish}, {20, recolour}, {33, digit}, {20, recolour}}
		t := lockstep.NewTree(lockstep.Options{LineOf: func(r program.Read) int { return int(r) + 1000 }})
		for i, m := range made {
			Expect(t.Add(run(fmt.Sprint("r", i+1), clean(s, 60, m.at, m.c), log(60)))).To(Succeed())
		}
		got, err := json.Marshal(t.Result())
		Expect(err).NotTo(HaveOccurred())
		var out struct {
			Runs       []string
			Frames     int
			Unseen     int
			Lockstep   bool
			Divergence map[string]any
			Families   []struct {
				Runs         []string
				From, Parent int
			}
		}
		Expect(json.Unmarshal(got, &out)).To(Succeed())
		Expect(out.Runs).To(HaveLen(7))
		Expect(out.Frames).To(Equal(60))
		Expect(out.Unseen).To(Equal(0))
		Expect(out.Lockstep).To(BeFalse())
		Expect(out.Divergence).To(HaveKeyWithValue("frame", 20.0))
		Expect(out.Divergence).To(HaveKeyWithValue("kind", "picture"))
		Expect(out.Divergence).To(HaveKeyWithValue("read", 20.0))
		Expect(out.Divergence).To(HaveKeyWithValue("program_line", 1020.0))
		Expect(out.Divergence["region"]).To(HaveLen(4))
		var families []string
		for _, f := range out.Families {
			families = append(families, fmt.Sprint(f.From, f.Parent, f.Runs))
		}
		Expect(families).To(Equal([]string{"0 -1 [r1 r3]", "20 0 [r2 r4]", "20 0 [r5 r7]", "33 0 [r6]"}))
	})

	It("is one family in lockstep, and says null", func() {
		s := small(3)
		t := lockstep.NewTree(lockstep.Options{})
		for i := range 3 {
			Expect(t.Add(run(fmt.Sprint("r", i), clean(s, 20, 20, nothing), log(20)))).To(Succeed())
		}
		Expect(t.Add(run("r0", clean(s, 20, 20, nothing), log(20)))).NotTo(Succeed())
		got, err := json.Marshal(t.Result())
		Expect(err).NotTo(HaveOccurred())
		Expect(got).To(MatchJSON(`{"runs":["r0","r1","r2"],"frames":20,"unseen":0,"lockstep":true,"divergence":null,"families":[{"runs":["r0","r1","r2"],"from":0,"parent":-1}],"suspects":0}`))
	})

	It("splits a family again later", func() {
		s := small(11)
		film := func(parts ...change) *lockstep.Memory {
			m := lockstep.NewMemory(lockstep.Layout{W: 64, H: 64})
			for f := range 20 * len(parts) {
				Expect(m.Add(console.Frame(f), lockstep.Seen, s.draw(f, parts[f/20]))).To(Succeed())
			}
			return m
		}
		t := lockstep.NewTree(lockstep.Options{})
		Expect(t.Add(run("a", film(nothing, nothing, nothing), log(60)))).To(Succeed())
		Expect(t.Add(run("b", film(nothing, vanish, vanish), log(60)))).To(Succeed())
		Expect(t.Add(run("c", film(nothing, vanish, recolour), log(60)))).To(Succeed())
		var got []string
		for _, f := range t.Result().Families {
			got = append(got, fmt.Sprint(f.From, f.Parent, f.Runs))
		}
		Expect(got).To(Equal([]string{"0 -1 [a]", "20 0 [b]", "40 1 [c]"}))
	})
})

// counted is a trace that counts the pictures taken from it.
type counted struct {
	*lockstep.Memory
	n *int
}

func (c counted) Open() (lockstep.Cursor, error) {
	cur, err := c.Memory.Open()
	return countedCursor{cur, c.n}, err
}

type countedCursor struct {
	lockstep.Cursor
	n *int
}

func (c countedCursor) Next(p *lockstep.Picture) error {
	*c.n++
	return c.Cursor.Next(p)
}

var _ = Describe("many families", func() {
	It("are sorted out as they were made, with work that grows with the runs", func() {
		const frames = 150
		s := lively(5, 64, 64)
		r := rand.New(rand.NewPCG(base+6, 6))
		// Families of a known tree: each parts from an earlier one at a frame, by
		// a spot of its own that stays.
		type kin struct{ at, x, y, parent int }
		families := []kin{{parent: -1}}
		for len(families) < 8 {
			p := r.IntN(len(families))
			families = append(families, kin{families[p].at + 8 + r.IntN(12), 8 * (len(families) % 8), 24 + 16*(len(families)/8), p})
		}
		film := func(f int) *lockstep.Memory {
			m := lockstep.NewMemory(lockstep.Layout{W: 64, H: 64})
			k := &card{gain: 1, zoom: 1, sigma: 2, r: rand.New(rand.NewPCG(r.Uint64(), 1))}
			for n := range frames {
				p := s.draw(n, nothing)
				for g := f; g > 0; g = families[g].parent {
					if n < families[g].at {
						continue
					}
					for i := range 64 {
						p.Y[(families[g].y+i/8)*64+families[g].x+i%8] = 255
					}
				}
				Expect(m.Add(console.Frame(n), lockstep.Seen, k.shoot(p, n))).To(Succeed())
			}
			return m
		}
		t := lockstep.NewTree(lockstep.Options{})
		work := map[int]int{}
		made := map[string]int{}
		n := 0
		for i := range 12 {
			f := i
			if i >= len(families) {
				f = r.IntN(len(families))
			}
			name := fmt.Sprint("r", i)
			made[name] = f
			Expect(t.Add(lockstep.Run{Name: name, Trace: counted{film(f), &n}, Reads: log(frames)})).To(Succeed())
			work[i+1] = n
		}
		out := t.Result()
		Expect(out.Families).To(HaveLen(len(families)))
		for i, f := range out.Families {
			for _, name := range f.Runs {
				Expect(made[name]).To(Equal(made[f.Runs[0]]), "%v", f)
			}
			Expect(int(f.From)).To(Equal(families[i].at))
			Expect(f.Parent).To(Equal(families[i].parent), "family %d", i)
		}
		// A run that differs is gone through once with the first and once with
		// its own kin, and looked at around where it parts.
		Expect(work[12]).To(BeNumerically("<", 12*14*frames))
	})
})
