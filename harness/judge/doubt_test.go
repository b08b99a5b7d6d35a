package judge_test

import (
	"math/rand/v2"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/clock"
	"latchproof/harness/judge"
	"latchproof/specs/console"
)

// footageOf is how much the pictures of a scroller change: true frame number of
// every picture, in noise.
func footageOf(r *rand.Rand, frames []int) *judge.Motion {
	m := &judge.Motion{}
	change := func(n int) float32 {
		if n == 0 {
			return float32(800 + 40*r.NormFloat64())
		}
		return float32(800 + 5000*float64(n) + 300*r.NormFloat64())
	}
	for k, f := range frames {
		one, two := float32(-1), float32(-1)
		if k > 0 {
			one = change(f - frames[k-1])
		}
		if k > 1 {
			two = change(f - frames[k-2])
		}
		m.Append(one, two, one)
	}
	return m
}

// claims are what a clock says: frame numbers, all sure, one tick a picture.
func claims(frames []int) []clock.Assignment {
	out := make([]clock.Assignment, len(frames))
	for k, f := range frames {
		out[k] = clock.Assignment{Frame: console.Frame(f), Tick: int64(k), State: clock.Sure}
	}
	return out
}

// shown are the frames that pictures show at so many frames a picture.
func shown(n int, rate, phase float64) []int {
	out := make([]int, n)
	for k := range out {
		out[k] = int(phase + rate*float64(k))
	}
	return out
}

var _ = Describe("the clock against the pictures", func() {
	const slower, faster = 1 + 1/378.57, 50.0 / 60

	It("is not contradicted when it is right", func() {
		for seed := range uint64(200) {
			r := rand.New(rand.NewPCG(seed, 1))
			rate := slower
			if seed%2 == 0 {
				rate = faster
			}
			frames := shown(4000, rate, r.Float64())
			e := judge.Against(footageOf(r, frames), claims(frames), make([]bool, len(frames)))
			Expect(e).To(BeEmpty(), "seed %d", seed)
		}
	})

	It("is contradicted by a latency that is off by a part of a frame", func() {
		for seed := range uint64(50) {
			r := rand.New(rand.NewPCG(seed, 2))
			phase := r.Float64()
			told := claims(shown(6000, slower, phase+0.3))
			e := judge.Against(footageOf(r, shown(6000, slower, phase)), told, make([]bool, 6000))
			Expect(e).To(ContainSubstring("the card's latency is not the calibrated one"), "seed %d", seed)

			told = claims(shown(1200, faster, phase+0.3))
			e = judge.Against(footageOf(r, shown(1200, faster, phase)), told, make([]bool, 1200))
			Expect(e).To(ContainSubstring("that it calls one frame"), "seed %d", seed)
		}
	})

	It("finds nothing where nothing moves, and takes no picture that is bad", func() {
		r := rand.New(rand.NewPCG(3, 3))
		still := make([]int, 4000)
		e := judge.Against(footageOf(r, still), claims(shown(4000, slower, 0)), make([]bool, 4000))
		Expect(e).To(BeEmpty())
		bad := make([]bool, 4000)
		for k := range bad {
			bad[k] = true
		}
		e = judge.Against(footageOf(r, shown(4000, slower, 0)), claims(shown(4000, slower, 0.5)), bad)
		Expect(e).To(BeEmpty())
	})

	// By scipy.stats.binom.sf(x-1, n, p), and 1/32.
	It("has the binomial tail", func() {
		Expect(judge.TailOf(10, 3, 0.1)).To(BeNumerically("~", 0.0701908264, 1e-9))
		Expect(judge.TailOf(5, 5, 0.5)).To(BeNumerically("~", 0.03125, 1e-12))
		Expect(judge.TailOf(10, 0, 0.1)).To(BeNumerically("==", 1))
	})
})

var _ = Describe("a picture that comes again", func() {
	// scroller moves a step a picture but at the places that repeat; after steps
	// says how far the picture after a repeat moves.
	scroller := func(n, at, pictures int, after float32) *judge.Motion {
		m := &judge.Motion{}
		for k := range n {
			one := float32(5000)
			two := float32(10000)
			if k >= at && k < at+pictures {
				one, two = 4, 5000
			} else if k == at+pictures {
				one = after
			}
			m.Append(one, two, one)
		}
		return m
	}

	It("is one when the motion has what it missed", func() {
		Expect(scroller(60, 30, 1, 10000).Again(30)).To(Equal(1))
		Expect(scroller(60, 30, 3, 20000).Again(30)).To(Equal(3))
		Expect(scroller(60, 30, 3, 20000).Again(31)).To(BeZero())
	})

	// Changes as measured on an H.264 stream with noise (simulated bench, seed 301,
	// 1280x720, constant rate factor 26), where two pictures came again.
	It("is one when a codec makes it anew out of noise", func() {
		noisy := func(first, second float32) *judge.Motion {
			m := &judge.Motion{}
			for k := range 60 {
				one, two, most := float32(4.4e6), float32(9.4e6), float32(3.6e5)
				switch k {
				case 30:
					one, two, most = first, 4.4e6, 68
				case 31:
					one, two, most = second, 1825, 161
				case 32:
					one, two = 10.5e6, 10.5e6
				}
				m.Append(one, two, most)
			}
			return m
		}
		Expect(noisy(1101, 1246).Again(30)).To(Equal(2))
		// No less than the noise of a picture of its own, or in a stream that gives
		// repeats to the last bit.
		Expect(noisy(1e5, 1e5).Again(30)).To(BeZero())
		Expect(noisy(1101, 0).Again(30)).To(BeZero())
	})

	It("is a game that stood still when the motion goes on as before", func() {
		Expect(scroller(60, 30, 1, 5000).Again(30)).To(BeZero())
	})

	It("cannot be told at the ends, or where little moves", func() {
		Expect(scroller(60, 5, 1, 10000).Again(5)).To(BeZero())
		Expect(scroller(40, 30, 1, 10000).Again(30)).To(BeZero())
		m := scroller(60, 30, 1, 10000)
		for k := range 26 {
			m.SetMost(k, 100)
		}
		Expect(m.Again(30)).To(BeZero())
	})
})
