package clock

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/specs/console"
	"latchproof/specs/program"
)

// randomRuns is how many runs are made; a tenth of them under -short, that is,
// under the race detector, which nothing here needs: it is all one goroutine.
func randomRuns() int {
	if testing.Short() {
		return 52
	}
	return 520
}

var _ = Describe("a run whose every frame is known", Ordered, func() {
	var pictures, unsure, measured int
	var predicted, variance float64

	It("is never labelled wrong, under random trouble", func() {
		for seed := range uint64(randomRuns()) {
			r := rand.New(rand.NewPCG(seed, 11))
			s := randomSettings(r)
			t := simulate(r, s)
			about := fmt.Sprintf("seed %d: %+v", seed, s)
			in, err := t.input()
			Expect(err).NotTo(HaveOccurred(), about)
			if r.IntN(2) == 0 {
				n := r.IntN(s.frames)
				in.Anchor = &Anchor{Frame: console.Frame(n), Capture: t.firstOf(n)}
			}
			c, err := Build(in)
			Expect(err).NotTo(HaveOccurred(), about)
			if c.State == Measured {
				measured++
			}
			checkReads(t, c.Reads(), about)
			p, u, e := checkPictures(t, c, about)
			pictures, unsure, predicted = pictures+p, unsure+u, predicted+e
			variance += (float64(u) - e) * (float64(u) - e)
			checkFrames(t, c, about)
		}
	})

	It("is measured in all of the runs", func() {
		Expect(measured).To(Equal(randomRuns()))
	})

	It("leaves as many pictures unsure as the guards predict, and no more", func() {
		// Whether a picture is unsure is chance only through where the run's
		// pictures fall in its frames, so runs are independent of each other but
		// the pictures of one run are not: the spread is that of the runs' sums.
		Expect(pictures).To(BeNumerically(">", 400_000*randomRuns()/520))
		Expect(float64(unsure)).To(BeNumerically("~", predicted, 4*math.Sqrt(variance)))
		Expect(variance).To(BeNumerically("<", math.Pow(0.05*predicted, 2)*520/float64(randomRuns())))
		Expect(predicted / float64(pictures)).To(BeNumerically("<", 0.25))
	})
})

func checkReads(t truth, f *ReadFit, about string) {
	GinkgoHelper()
	Expect(f.Reads()).To(Equal(len(t.logged)), about)
	bad := 0
	has := map[int]bool{}
	var extra []program.Read
	for i, want := range t.logged {
		got, ok := f.FrameOfRead(program.Read(i))
		if t.onTick[i] && int(got) == want+1 {
			// No log can tell this one from a read of the next frame.
			t.logged[i], t.spurious[i], want = want+1, false, want+1
		}
		if !ok || int(got) != want {
			bad++
		}
		if has[want] {
			extra = append(extra, program.Read(i))
		}
		has[want] = true
	}
	Expect(bad).To(BeZero(), "reads with a wrong frame; "+about)
	Expect(f.ExtraReads()).To(BeEquivalentTo(extra), about)
	Expect(f.LateReads()).To(BeEmpty(), about)
	last := t.logged[len(t.logged)-1]
	Expect(int(f.LastFrame())).To(Equal(last), about)
	var lag []console.Frame
	for n := range last {
		if !has[n] {
			lag = append(lag, console.Frame(n))
		}
	}
	Expect(f.LagFrames()).To(BeEquivalentTo(lag), about)
	force := -1
	next := 0
	for n := range last + 1 {
		for next < len(t.logged) && t.logged[next] <= n {
			if !t.spurious[next] {
				force = next
			}
			next++
		}
		if got, ok := f.ReadAt(console.Frame(n)); !ok || int(got) != force {
			Fail(fmt.Sprintf("frame %d: read %d in force, not %d; %s", n, got, force, about))
		}
	}
}

// checkPictures gives the number of pictures within the run, how many of them
// are unsure, and how many should be if a picture's place in its frame is
// random.
func checkPictures(t truth, c *Clock, about string) (pictures, unsure int, predicted float64) {
	GinkgoHelper()
	period := ntsc.Period()
	last := t.logged[len(t.logged)-1]
	for k, a := range c.Captures {
		want := t.frame(k)
		switch a.State {
		case Sure:
			if int(a.Frame) != want {
				Fail(fmt.Sprintf("picture %d is of frame %d and was surely labelled %d, margin %v, guard %v; %s", k, want, a.Frame, a.Margin, a.Guard, about))
			}
			if d := math.Abs(a.Margin.Seconds() - t.margin(k)); d > a.Guard.Seconds() {
				Fail(fmt.Sprintf("picture %d: margin off by %.6f s, guard %v; %s", k, d, a.Guard, about))
			}
		case Outside:
			if want >= 0 && want <= last+10 {
				Fail(fmt.Sprintf("picture %d is of frame %d and was put outside; %s", k, want, about))
			}
		}
		if want >= 0 && want <= last {
			pictures++
			predicted += min(1, 2*a.Guard.Seconds()/period)
			if a.State == Unsure {
				unsure++
			}
		}
	}
	return pictures, unsure, predicted
}

func checkFrames(t truth, c *Clock, about string) {
	GinkgoHelper()
	last := t.logged[len(t.logged)-1]
	clear := make([]bool, last+1) // a picture of it lies well inside the frame
	taken := make([]bool, last+1)
	for k, a := range c.Captures {
		if n := t.frame(k); n >= 0 && n <= last {
			taken[n] = true
			if t.margin(k) > 2.01*a.Guard.Seconds() {
				clear[n] = true
			}
		}
	}
	for n := range last + 1 {
		f := console.Frame(n)
		state := c.FrameState(f)
		k, ok := c.CaptureOf(f)
		if ok != (state == Seen) || ok && t.frame(k) != n {
			Fail(fmt.Sprintf("frame %d: %v, picture %d; %s", n, state, k, about))
		}
		if state == Unseen && taken[n] || state == Seen && !taken[n] || clear[n] && state != Seen {
			Fail(fmt.Sprintf("frame %d is %v; taken %v, clear %v; %s", n, state, taken[n], clear[n], about))
		}
	}
}
