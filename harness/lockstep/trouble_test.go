package lockstep_test

import (
	"fmt"
	"math/rand/v2"
	"sync/atomic"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/lockstep"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

// tear puts the lower part of another picture, from row y on, under s.
func tear(s, other *screen.Screen, y int) {
	copy(s.Y[y*s.W:], other.Y[y*s.W:])
	copy(s.Cb[y*s.W:], other.Cb[y*s.W:])
	copy(s.Cr[y*s.W:], other.Cr[y*s.W:])
}

// garbage paints squares of 16x16 as a decoder leaves them that lost its data.
func garbage(s *screen.Screen, r *rand.Rand, n int) {
	for range n {
		x0, y0 := r.IntN(s.W-16), 24+r.IntN(s.H-40)
		v, cb, cr := byte(r.Uint32()), byte(r.Uint32()), byte(r.Uint32())
		for i := range 256 {
			at := (y0+i/16)*s.W + x0 + i%16
			s.Y[at], s.Cb[at], s.Cr[at] = v+byte(r.IntN(24)), cb, cr
		}
	}
}

// spoil makes picture f of a scene as a card in trouble gives it.
func spoil(kind string, s *scene, f int, now change, r *rand.Rand) *screen.Screen {
	p := s.draw(f, now)
	switch kind {
	case "torn before":
		tear(p, s.draw(f-1, now), 32+r.IntN(s.h-40))
	case "torn after":
		tear(p, s.draw(f+1, now), 32+r.IntN(s.h-40))
	case "given again": // every other picture
		p = s.draw(f-f%2, now)
	case "garbage":
		garbage(p, r, 1+r.IntN(6))
	}
	return p
}

var spoils = []string{"torn before", "torn after", "given again", "garbage"}

var _ = Describe("trouble of the capture", func() {
	It("is no divergence, alone or in bursts, hides none, and moves none", func() {
		cases, frames := 96, 64
		if slow {
			cases = 4
		}
		wrong := make([]string, cases)
		var flickers atomic.Int64
		each(cases, func(i int) {
			seed := base + 80000 + uint64(i)
			r := rand.New(rand.NewPCG(seed, 9))
			s := lively(seed, 96, 88)
			kind := spoils[i%len(spoils)]
			at := 12 + r.IntN(20) // where the trouble begins
			burst := 1
			if i/len(spoils)%2 == 1 {
				burst = 2 + r.IntN(12)
			}
			parts := frames // where the runs part
			c := digit      // trouble just before, in the very place, could not be told from it
			if i%3 > 0 {
				parts = at + burst + 3 + r.IntN(3)
			}
			ka, kb := newCard(seed, 0), newCard(seed, 1)
			for _, k := range []*card{ka, kb} {
				if k.sigma > 4 {
					k.sigma = 4
				}
			}
			spoilA := r.IntN(2) == 0
			film := func(k *card, spoiled bool, parts int) lockstep.Run {
				m := lockstep.NewMemory(lockstep.Layout{W: s.w, H: s.h})
				for f := range frames {
					now := nothing
					if f >= parts {
						now = c
					}
					p := s.draw(f, now)
					if spoiled && f >= at && f < at+burst {
						p = spoil(kind, s, f, now, r)
					}
					if err := m.Add(console.Frame(f), lockstep.Seen, k.shoot(p, f)); err != nil {
						panic(err)
					}
				}
				return lockstep.Run{Name: fmt.Sprint(parts), Trace: m, Reads: log(frames)}
			}
			rep, err := lockstep.Compare(film(ka, spoilA, frames), film(kb, !spoilA, parts))
			what := fmt.Sprintf("case %d (seed %d): %s, %d from %d, in a %v, change %d at %d, sigma %v quality %d: ", i, seed, kind, burst, at, spoilA, c, parts, ka.sigma, ka.quality)
			flickers.Add(int64(len(rep.Suspects)))
			d := rep.Divergence
			switch {
			case err != nil:
				wrong[i] = what + err.Error()
			case d == nil && parts < frames:
				wrong[i] = what + fmt.Sprintf("not found: %v", rep.Suspects)
			case d != nil && (d.Frame != console.Frame(parts) || d.Kind != lockstep.KindPicture):
				wrong[i] = what + fmt.Sprintf("found %s at %d: %s; %v", d.Kind, d.Frame, d.Why, rep.Suspects)
			}
		})
		GinkgoWriter.Printf("%d cases, %d suspects\n", cases, flickers.Load())
		Expect(names(wrong)).To(BeEmpty())
		Expect(flickers.Load()).To(BeNumerically(">=", cases/4))
	})

	It("may last: a card that freezes for half a second", func() {
		s := lively(31, 64, 64)
		for _, n := range []int{5, 30, 70} {
			a := clip(s, quiet(), 200, func(f int) (int, change) { return f, nothing })
			b := clip(s, quiet(), 200, func(f int) (int, change) {
				if f >= 60 && f < 60+n {
					return 59, nothing
				}
				return f, nothing
			})
			rep, err := lockstep.Compare(run("a", a, log(200)), run("b", b, log(200)))
			Expect(err).NotTo(HaveOccurred())
			Expect(rep.Lockstep()).To(BeTrue(), "%d frames: %+v", n, rep.Divergence)
			Expect(rep.Suspects).NotTo(BeEmpty())
			Expect(rep.Compared).To(BeEquivalentTo(200))
		}
	})

	It("is told from a console that hangs", func() {
		s := lively(31, 64, 64)
		a := clip(s, quiet(), 200, func(f int) (int, change) { return f, nothing })
		b := clip(s, quiet(), 200, func(f int) (int, change) { return min(f, 59), nothing })
		rep, err := lockstep.Compare(run("a", a, log(200)), run("b", b, log(200)))
		Expect(err).NotTo(HaveOccurred())
		Expect(rep.Divergence).NotTo(BeNil())
		Expect(rep.Divergence.Kind).To(Equal(lockstep.KindPicture))
		Expect(rep.Divergence.Frame).To(BeEquivalentTo(60))
	})
})
