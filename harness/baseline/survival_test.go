package baseline_test

import (
	"math/bits"
	"math/rand/v2"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/baseline"
	"latchproof/harness/stats"
)

// lot are n lifetimes with ties and censoring.
func lot(rng *rand.Rand, n int) []stats.Lifetime {
	out := make([]stats.Lifetime, n)
	for i := range out {
		out[i] = stats.Lifetime{Time: float64(rng.IntN(6)), Event: rng.IntN(3) > 0}
	}
	return out
}

var _ = Describe("the log-rank test by permutation", func() {
	It("has scores whose sum is what was observed less what was expected", func() {
		rng := rand.New(rand.NewPCG(1, 2))
		for range 200 {
			a, b := lot(rng, 1+rng.IntN(8)), lot(rng, 1+rng.IntN(8))
			want, err := stats.LogRank(a, b)
			Expect(err).NotTo(HaveOccurred())
			sum := 0.0
			for _, s := range baseline.Scores(append(append([]stats.Lifetime{}, a...), b...))[:len(a)] {
				sum += s
			}
			Expect(sum).To(BeNumerically("~", want.Observed[0]-want.Expected[0], 1e-9))
		}
	})

	It("is the share of all namings that come out so or worse", func() {
		rng := rand.New(rand.NewPCG(3, 4))
		for range 60 {
			a, b := lot(rng, 1+rng.IntN(6)), lot(rng, 1+rng.IntN(6))
			all := append(append([]stats.Lifetime{}, a...), b...)
			scores := baseline.Scores(all)
			seen, most := 0.0, -1e9
			for _, s := range scores[:len(a)] {
				seen += s
			}
			sums := []float64{}
			for set := range 1 << len(all) {
				if bits.OnesCount(uint(set)) != len(a) {
					continue
				}
				sum := 0.0
				for i, s := range scores {
					if set>>i&1 == 1 {
						sum += s
					}
				}
				sums, most = append(sums, sum), max(most, sum)
			}
			share := func(from float64) float64 {
				n := 0
				for _, s := range sums {
					if s >= from-1e-9 {
						n++
					}
				}
				return float64(n) / float64(len(sums))
			}
			p, least := baseline.LogRank(a, b)
			Expect(p).To(BeNumerically("~", share(seen), 1e-9))
			Expect(least).To(BeNumerically("~", share(most), 1e-9))
		}
	})

	It("is the same by lot, but for the lot", func() {
		rng := rand.New(rand.NewPCG(5, 6))
		for range 5 {
			a, b := lot(rng, 7), lot(rng, 6)
			p, _ := baseline.LogRank(a, b)
			// Five standard deviations of a share in 9,999.
			Expect(baseline.Drawn(a, b)).To(BeNumerically("~", p, 5*0.005+1e-4))
		}
	})

	It("says nothing where nothing parts or a side is empty", func() {
		clean := []stats.Lifetime{{Time: 9}, {Time: 8}}
		p, least := baseline.LogRank(clean, clean)
		Expect([]float64{p, least}).To(Equal([]float64{1, 1}))
		p, least = baseline.LogRank(nil, clean)
		Expect([]float64{p, least}).To(Equal([]float64{1, 1}))
	})
})

var _ = Describe("the log-rank test of thousands of runs", func() {
	It("is drawn by lot and is as far as the lot tells", func() {
		many := func(n, parted int) []stats.Lifetime {
			out := make([]stats.Lifetime, n)
			for i := range out {
				out[i] = stats.Lifetime{Time: float64(100 + i%7), Event: i < parted}
			}
			return out
		}
		p, least := baseline.LogRank(many(1200, 60), many(1500, 0))
		Expect(p).To(BeNumerically("<=", 0.001))
		Expect(least).To(BeNumerically("<=", 0.001))
		p, _ = baseline.LogRank(many(1200, 60), many(1500, 75))
		Expect(p).To(BeNumerically(">", 0.05))
	})
})
