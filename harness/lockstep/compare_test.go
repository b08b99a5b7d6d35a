package lockstep_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"runtime"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/lockstep"
	"latchproof/specs/console"
)

// film shoots frames of a scene; from frame at on, c is otherwise.
func film(s *scene, k *card, frames, at int, c change) *lockstep.Memory {
	m := lockstep.NewMemory(lockstep.Layout{W: s.w, H: s.h})
	for f := 0; f < frames; f++ {
		now := nothing
		if f >= at {
			now = c
		}
		if err := m.Add(console.Frame(f), lockstep.Seen, k.shoot(s.draw(f, now), f)); err != nil {
			panic(err)
		}
	}
	return m
}

// each runs work on every core. LOCKSTEP_CASE makes it one case only, to replay
// it; what counts the cases then fails.
func each(n int, work func(int)) {
	if i, err := strconv.Atoi(os.Getenv("LOCKSTEP_CASE")); err == nil {
		if i < n {
			work(i)
		}
		return
	}
	var wg sync.WaitGroup
	next := make(chan int)
	for range runtime.NumCPU() {
		wg.Go(func() {
			for i := range next {
				work(i)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	wg.Wait()
}

// plainness is how far the noiseless pictures of frame f differ: the greatest
// root of summed squares of the four luma means of a block, levels.
func plainness(s *scene, f int, c change) float64 {
	a := lockstep.Extract(s.draw(f, nothing), nil)
	b := lockstep.Extract(s.draw(f, c), nil)
	most := 0.0
	for i := 0; i < len(a); i += 6 {
		sum := 0.0
		for k := i; k < i+4; k++ {
			d := (float64(a[k]) - float64(b[k])) * lockstep.Unit
			sum += d * d
		}
		most = max(most, math.Sqrt(sum))
	}
	return most
}

// plain says how great a difference must be, in one block of one frame, to be
// dated exactly: the threshold for four luma means and a false alarm of 1e-9,
// 8.0 standard deviations here, up to half as much again where the noise is
// below 1.5 levels, and 5 more that noise may take away.
func plain(noise float64) float64 {
	r := min(1, 1.5/noise)
	return (8*(1+0.5*r*r) + 5) * noise
}

// base is added to every seed; LOCKSTEP_SEED sets it, to try fresh cases.
var base, _ = strconv.ParseUint(os.Getenv("LOCKSTEP_SEED"), 10, 64)

func names(bad []string) (out []string) {
	for _, b := range bad {
		if b != "" {
			out = append(out, b)
		}
	}
	return out
}

var _ = Describe("the first divergent frame", func() {
	It("is exact in seeded cases under noise, compression, gain and drift", func() {
		cases, frames := 160, 20
		if slow || testing.Short() {
			cases = 10
		}
		wrong := make([]string, cases)
		var sures, found atomic.Int64
		each(cases, func(i int) {
			seed := base + uint64(i)
			r := rand.New(rand.NewPCG(seed, 4))
			c := 1 + change(r.IntN(int(changes)-1))
			at := 3 + r.IntN(8)
			s := newScene(seed, 128, 120)
			for s.wraps(at) || s.wraps(at+1) || s.wraps(at+2) || s.wraps(at+3) {
				at++ // what jumps away at once looks like a torn picture
			}
			ka, kb := newCard(seed, 0), newCard(seed, 1)
			rep, err := lockstep.Compare(
				lockstep.Run{Name: "a", Trace: film(s, ka, frames, frames, nothing)},
				lockstep.Run{Name: "b", Trace: film(s, kb, frames, at, c)})
			what := fmt.Sprintf("case %d: change %d at %d, sigma %v quality %d zoom %d, difference %.1f over %.2f: ",
				i, c, at, ka.sigma, ka.quality, ka.zoom, plainness(s, at, c), rep.Noise.Luma)
			noise := rep.Noise.Luma
			if c == scrollOne {
				// A change all over the picture passes for noise up to twice
				// what is known.
				noise *= 2
			}
			sure := plainness(s, at, c) >= plain(noise)
			if sure {
				sures.Add(1)
			}
			d := rep.Divergence
			switch {
			case err != nil:
				wrong[i] = what + err.Error()
			case d == nil && !sure:
			case d == nil:
				wrong[i] = what + fmt.Sprintf("not found; suspects %v", rep.Suspects)
			case d.Frame < console.Frame(at), d.Frame != console.Frame(at) && sure:
				wrong[i] = what + fmt.Sprintf("found at %d %v score %.2f", d.Frame, d.Region, d.Score)
			case d.Kind != lockstep.KindPicture:
				wrong[i] = what + "kind " + string(d.Kind)
			default:
				found.Add(1)
			}
		})
		GinkgoWriter.Printf("%d cases, %d plain, %d found\n", cases, sures.Load(), found.Load())
		Expect(names(wrong)).To(BeEmpty())
		if cases < 100 { // too few for the share to be steady
			Expect(sures.Load()).To(BeNumerically(">", 0))
			return
		}
		Expect(sures.Load()).To(BeNumerically(">=", cases*65/100))
	})

	It("is never seen where there is none, over many pairs of captures", func() {
		scenes, runs, frames := 8, 24, 20 // 44,160 frame pairs
		if base > 0 {                     // fresh cases, and more of them
			scenes = 19
		}
		if slow || testing.Short() {
			scenes, runs, frames = 4, 8, 10
		}
		wrong := make([]string, scenes)
		var pairs, suspects atomic.Int64
		each(scenes, func(i int) {
			seed := base + uint64(5000+i)
			s := newScene(seed, 128, 120)
			all := make([]lockstep.Run, runs)
			for n := range all {
				all[n] = lockstep.Run{Name: fmt.Sprint(n), Trace: film(s, newCard(seed, uint64(n)), frames, frames, nothing)}
			}
			for n := range all {
				for k := range n {
					rep, err := lockstep.Compare(all[k], all[n])
					suspects.Add(int64(len(rep.Suspects)))
					if err != nil || rep.Divergence != nil {
						wrong[i] += fmt.Sprintf("scene %d, runs %d and %d: %v %v %+v\n", i, k, n, err, rep.Suspects, rep.Divergence)
					}
					pairs.Add(rep.Compared)
				}
			}
		})
		GinkgoWriter.Printf("%d frame pairs, %d suspects\n", pairs.Load(), suspects.Load())
		Expect(names(wrong)).To(BeEmpty())
		Expect(pairs.Load()).To(BeEquivalentTo(scenes * runs * (runs - 1) / 2 * frames))
	})

	It("is found for one pixel of a 16-pixel sprite under noise of 20 levels and JPEG of quality 50", func() {
		for seed := range uint64(3) {
			s := newScene(seed, 256, 240)
			for i := range s.sprites[0].look { // a plain bright square
				s.sprites[0].look[i] = 235
			}
			s.sprites = s.sprites[:1]
			shoot := func(run uint64, at int) lockstep.Run {
				k := &card{sigma: 20, quality: 50, zoom: 2, gain: 1, r: rand.New(rand.NewPCG(seed, run))}
				return lockstep.Run{Name: fmt.Sprint(run), Trace: film(s, k, 12, at, stepOne)}
			}
			rep, err := lockstep.Compare(shoot(1, 12), shoot(2, 6))
			Expect(err).NotTo(HaveOccurred())
			Expect(rep.Divergence).NotTo(BeNil())
			Expect(rep.Divergence.Frame).To(BeEquivalentTo(6))
			Expect(rep.Divergence.Region.Dx()).To(BeNumerically("<=", 32))
			Expect(rep.Divergence.Region.Dy()).To(BeNumerically("<=", 24))
		}
	})

	It("is not seen in a change of scene or a fade of both runs", func() {
		const cases, frames = 24, 16
		wrong := make([]string, cases)
		each(cases, func(i int) {
			seed := base + uint64(9000+i)
			one, two := newScene(seed, 128, 120), newScene(seed+500, 128, 120)
			shoot := func(n uint64) lockstep.Run {
				k := newCard(seed, n)
				m := lockstep.NewMemory(lockstep.Layout{W: 128, H: 120})
				for f := range frames {
					s := one.draw(f, nothing)
					switch {
					case i%2 == 0 && f >= 7: // a cut
						s = two.draw(f, nothing)
					case i%2 == 1: // out of the dark
						for p := range s.Y {
							s.Y[p] = byte(int(s.Y[p]) * min(f, 10) / 10)
							s.Cb[p] = byte(128 + (int(s.Cb[p])-128)*min(f, 10)/10)
							s.Cr[p] = byte(128 + (int(s.Cr[p])-128)*min(f, 10)/10)
						}
					}
					if err := m.Add(console.Frame(f), lockstep.Seen, k.shoot(s, f)); err != nil {
						panic(err)
					}
				}
				return lockstep.Run{Name: fmt.Sprint(n), Trace: m}
			}
			rep, err := lockstep.Compare(shoot(0), shoot(1))
			if err != nil || rep.Divergence != nil {
				wrong[i] = fmt.Sprintf("case %d: %v %v %+v noise %+v", i, err, rep.Suspects, rep.Divergence, rep.Noise)
			}
		})
		Expect(names(wrong)).To(BeEmpty())
	})
})

var _ = Describe("composite colour crosstalk", func() {
	// The subcarrier of a console with 341/2 dots too many or few a line has a
	// third of a turn each line and frame (doc.go), so that means over 4x4
	// pixels keep little of it.
	It("parts no runs and moves nothing, whatever its phases", func() {
		const frames = 40
		cases := 24
		if slow {
			cases = 4
		}
		wrong := make([]string, cases)
		each(cases, func(i int) {
			seed := base + 60000 + uint64(i)
			r := rand.New(rand.NewPCG(seed, 5))
			s := newScene(seed, 128, 120)
			for t := range s.cb {
				s.cb[t], s.cr[t] = byte(40+r.IntN(176)), byte(40+r.IntN(176))
			}
			at := 10 + r.IntN(10)
			for s.wraps(at) || s.wraps(at+1) || s.wraps(at+2) || s.wraps(at+3) {
				at++
			}
			shoot := func(n uint64, at int) lockstep.Run {
				k := newCard(seed, n)
				k.sigma, k.cross, k.turn = min(k.sigma, 4), []float64{6, 12, 24}[i%3], k.r.Float64()*2*math.Pi
				return lockstep.Run{Name: fmt.Sprint(n), Trace: film(s, k, frames, at, vanish), Reads: log(frames)}
			}
			a := shoot(0, frames)
			rep, err := lockstep.Compare(a, shoot(1, frames))
			if err != nil || rep.Divergence != nil {
				wrong[i] = fmt.Sprintf("case %d: %v %+v; ", i, err, rep.Divergence)
			}
			rep, err = lockstep.Compare(a, shoot(2, at))
			if err != nil || rep.Divergence == nil || rep.Divergence.Frame != console.Frame(at) {
				wrong[i] += fmt.Sprintf("case %d, %d: %v %+v", i, at, err, rep.Divergence)
			}
		})
		Expect(names(wrong)).To(BeEmpty())
	})
})
