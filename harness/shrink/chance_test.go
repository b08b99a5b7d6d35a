package shrink_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/shrink"
	"latchproof/harness/stats"
	"latchproof/specs/program"
)

// draw draws a run's group by the chances of the groups.
func draw(r *rand.Rand, chances []float64) int {
	x := r.Float64()
	for i, q := range chances {
		if x -= q; x < 0 {
			return i
		}
	}
	return len(chances) - 1
}

// sizes counts the groups.
func sizes(groups []int) []int {
	n := map[int]int{}
	for _, g := range groups {
		n[g]++
	}
	var out []int
	for _, k := range n {
		out = append(out, k)
	}
	return out
}

// mixtures are chances of groups of runs with a known largest one.
var mixtures = [][]float64{
	{0.8, 0.2}, {0.95, 0.05}, {0.5, 0.5}, {0.6, 0.2, 0.2}, {0.3, 0.3, 0.2, 0.2}, {0.05, 0.95}, {0.9, 0.05, 0.05},
}

var _ = Describe("chance", func() {
	It("that all repeats are alike is bounded by the largest group, for any groups", func() {
		r := rand.New(rand.NewPCG(1, 0))
		for range 5000 {
			q := make([]float64, 1+r.IntN(8))
			sum, largest := 0.0, 0.0
			for i := range q {
				q[i] = r.ExpFloat64()
				sum += q[i]
			}
			for i := range q {
				q[i] /= sum
				largest = max(largest, q[i])
			}
			for m := range int64(30) {
				alike := 0.0
				for _, x := range q {
					alike += math.Pow(x, float64(m+1))
				}
				if most := shrink.Missed(1-largest, m); alike > most*(1+1e-9) {
					Expect(alike).To(BeNumerically("<=", most))
				}
			}
		}
	})

	It("of the estimated limit being too high is 5 % at most, however the playing is stopped", func() {
		trials := int64(4000)
		if testing.Short() {
			trials = 400
		}
		for k, q := range mixtures {
			largest := 0.0
			for _, x := range q {
				largest = max(largest, x)
			}
			r := rand.New(rand.NewPCG(2, uint64(k)))
			wrong := int64(0)
			for range trials {
				var groups []int
				var rate shrink.Rate
				for len(groups) < 60 {
					groups = append(groups, draw(r, q))
					var err error
					rate, err = shrink.Estimate(sizes(groups))
					Expect(err).NotTo(HaveOccurred())
					if len(groups) >= 15 && rate.Outside >= shrink.Enough {
						break
					}
				}
				if rate.Low > 1-largest {
					wrong++
				}
			}
			share, err := stats.ClopperPearson(wrong, trials, 0.999)
			Expect(err).NotTo(HaveOccurred())
			Expect(share.Low).To(BeNumerically("<=", 0.05), "%v: %d of %d", q, wrong, trials)
		}
	})

	It("gives the limits of Clopper and Pearson", func() {
		// scipy 1.10.1: scipy.stats.beta.ppf(0.05, 4, 17) is 0.0713538843086182,
		// scipy.stats.beta.ppf(0.05, 14, 2) is 0.7206038063871234.
		rate, err := shrink.Estimate([]int{2, 16, 2})
		Expect(err).NotTo(HaveOccurred())
		Expect(rate.Outside).To(Equal(int64(4)))
		Expect(rate.Runs).To(Equal(int64(20)))
		Expect(rate.Low).To(BeNumerically("~", 0.0713538843086182, 1e-12))
		all := make([]int, 15)
		for i := range all {
			all[i] = 1
		}
		rate, err = shrink.Estimate(all)
		Expect(err).NotTo(HaveOccurred())
		Expect(rate.Low).To(BeNumerically("~", 0.7206038063871234, 1e-12))
		rate, err = shrink.Estimate([]int{15})
		Expect(err).NotTo(HaveOccurred())
		Expect(rate).To(Equal(shrink.Rate{Runs: 15}))
	})

	It("turns few wrongly down with noisy repeats, and never ends with what does not part", func() {
		trials := 500
		if testing.Short() { // under the race detector
			trials = 50
		}
		for k, q := range mixtures {
			largest := 0.0
			for _, x := range q {
				largest = max(largest, x)
			}
			m, err := stats.RepeatsNeeded(1-largest, 0.95)
			Expect(err).NotTo(HaveOccurred())
			r := rand.New(rand.NewPCG(3, uint64(k)))
			var tested, wrong int64
			for range trials {
				n := 4 + r.IntN(12)
				need := map[int]bool{}
				src := "program 1\n"
				for i := range n { // each its own buttons, the bits of i+1
					src += fmt.Sprintf("hold %s for %d\n", strings.ReplaceAll(ntsc.StateNames(uint16(i+1)), " ", ""), 1+i/8)
					need[i] = r.IntN(4) == 0
				}
				p, err := program.Parse("x", []byte(src), ntsc, program.Limits{})
				Expect(err).NotTo(HaveOccurred())
				// It truly can part when what is needed is pressed for as long.
				can := func(p *program.Program) bool {
					have := map[uint16]int64{}
					for _, run := range p.Runs() {
						have[run.State.P1] += run.Count
					}
					for i, is := range need {
						if is && have[uint16(i+1)] < int64(1+i/8) {
							return false
						}
					}
					return true
				}
				res, err := shrink.Reduce(context.Background(), p, func(_ context.Context, c *program.Program) (shrink.Outcome, error) {
					truly := can(c)
					reference := draw(r, q)
					o, err := shrink.Repeat(m, func() (shrink.Played, error) {
						if truly && draw(r, q) != reference {
							return shrink.Parted, nil
						}
						return shrink.Clean, nil
					})
					if truly {
						if tested++; o.Verdict == shrink.Stays {
							wrong++
						}
					}
					return o, err
				}, shrink.Options{})
				Expect(err).NotTo(HaveOccurred())
				Expect(can(res.Program)).To(BeTrue())
			}
			share, err := stats.ClopperPearson(wrong, tested, 0.999)
			Expect(err).NotTo(HaveOccurred())
			Expect(share.Low).To(BeNumerically("<=", 0.05), "%v, %d repeats: %d of %d", q, m, wrong, tested)
			GinkgoWriter.Printf("%v, %d repeats: %d of %d wrongly turned down\n", q, m, wrong, tested)
		}
	})
})

var _ = Describe("repeats of a candidate", func() {
	play := func(what ...shrink.Played) func() (shrink.Played, error) {
		i := -1
		return func() (shrink.Played, error) {
			if i++; i >= len(what) {
				return 0, errors.New("played too often")
			}
			return what[i], nil
		}
	}
	const c, p, l = shrink.Clean, shrink.Parted, shrink.Left

	It("stop at the first that parts", func() {
		Expect(shrink.Repeat(3, play(c, p))).To(Equal(shrink.Outcome{Verdict: shrink.Parts, Repeats: 2, Parted: 1}))
		Expect(shrink.Repeat(3, play(c, l, c, p))).To(Equal(shrink.Outcome{Verdict: shrink.Parts, Repeats: 3, Parted: 1, Left: 1}))
	})
	It("that do not part are all played", func() {
		Expect(shrink.Repeat(3, play(c, c, c))).To(Equal(shrink.Outcome{Verdict: shrink.Stays, Repeats: 3}))
		Expect(shrink.Repeat(3, play(l, c, l, c, l, c))).To(Equal(shrink.Outcome{Verdict: shrink.Stays, Repeats: 3, Left: 3}))
	})
	It("of which most are left out tell nothing", func() {
		Expect(shrink.Repeat(3, play(l, l, l, l))).To(Equal(shrink.Outcome{Verdict: shrink.Untold, Left: 4}))
		Expect(shrink.Repeat(5, play(c, l, l, l, l, l))).To(Equal(shrink.Outcome{Verdict: shrink.Untold, Repeats: 1, Left: 5}))
	})
	It("fail with the bench", func() {
		_, err := shrink.Repeat(3, play(c))
		Expect(err).To(MatchError("played too often"))
		_, err = shrink.Repeat(0, play())
		Expect(err).To(HaveOccurred())
	})
})
