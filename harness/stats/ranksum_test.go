package stats

import (
	"math"
	"math/rand/v2"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"gonum.org/v1/gonum/stat/combin"
)

var _ = Describe("RankSum", func() {
	// Source: R 4.2.2, wilcox.test(a, b, alternative = ..., exact = TRUE) with
	// the data of its help page (permeability constants, M. Hollander and D. A.
	// Wolfe, Nonparametric Statistical Methods, 1973, p. 69); scipy 1.10.1,
	// mannwhitneyu(a, b, method="exact") gives the same.
	It("gives the exact values of a published example", func() {
		a := []float64{0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46}
		b := []float64{1.15, 0.88, 0.90, 0.74, 1.21}
		r, err := RankSum(a, b)
		Expect(err).NotTo(HaveOccurred())
		Expect([]any{r.U, r.Exact}).To(Equal([]any{35.0, true}))
		Expect(r.Less).To(BeNumerically("~", 0.896769896769897, 1e-14))
		Expect(r.Greater).To(BeNumerically("~", 0.127206127206127, 1e-14))
		Expect(r.TwoSided).To(BeNumerically("~", 0.254412254412254, 1e-14))
		back, err := RankSum(b, a)
		Expect(err).NotTo(HaveOccurred())
		Expect(back.U).To(Equal(15.0))
		Expect(back.Less).To(BeNumerically("~", r.Greater, 1e-14))
		Expect(back.Greater).To(BeNumerically("~", r.Less, 1e-14))
	})

	It("counts the same as going through every split, ties included", func() {
		rng := rand.New(rand.NewPCG(7, 1))
		for range 120 {
			na, nb, kinds := rng.IntN(6), rng.IntN(6), 1+rng.IntN(8)
			all := make([]float64, na+nb)
			for i := range all {
				all[i] = float64(rng.IntN(kinds)) - 2
			}
			wins := func(inA func(i int) bool) (u float64) {
				for i := range all {
					for j := range all {
						if inA(i) && !inA(j) {
							switch {
							case all[i] > all[j]:
								u++
							case all[i] == all[j]:
								u += 0.5
							}
						}
					}
				}
				return u
			}
			seen := wins(func(i int) bool { return i < na })
			var less, greater, total float64
			for _, choice := range combin.Combinations(na+nb, na) {
				in := map[int]bool{}
				for _, i := range choice {
					in[i] = true
				}
				u := wins(func(i int) bool { return in[i] })
				total++
				if u <= seen {
					less++
				}
				if u >= seen {
					greater++
				}
			}
			r, err := RankSum(all[:na], all[na:])
			Expect(err).NotTo(HaveOccurred())
			Expect(r.U).To(Equal(seen))
			Expect(r.Less).To(BeNumerically("~", less/total, 1e-13))
			Expect(r.Greater).To(BeNumerically("~", greater/total, 1e-13))
			Expect(r.TwoSided).To(BeNumerically("~", min(1, 2*min(less, greater)/total), 1e-13))
		}
	})

	// Source: R 4.2.2, wilcox.test(a, b, alternative = ..., exact = FALSE), and
	// scipy 1.10.1, mannwhitneyu(a, b, method="asymptotic").
	It("goes over to the normal distribution for large samples", func() {
		var a, b []float64
		for i := range 150 {
			a = append(a, float64(i*7919%13))
		}
		for i := range 160 {
			b = append(b, float64(i*104729%17))
		}
		r, err := RankSum(a, b)
		Expect(err).NotTo(HaveOccurred())
		Expect([]any{r.U, r.Exact}).To(Equal([]any{9369.0, false}))
		Expect(r.Less).To(BeNumerically("~", 0.000415342864614574, 1e-16))
		Expect(r.Greater).To(BeNumerically("~", 0.999586554574138, 1e-14))
		Expect(r.TwoSided).To(BeNumerically("~", 0.000830685729229147, 1e-16))
	})

	It("tells nothing from an empty sample or from equal values", func() {
		equal := make([]float64, 300)
		for _, pair := range [][2][]float64{{nil, nil}, {{1, 2}, nil}, {nil, {1}}, {{3, 3}, {3}}, {equal, equal}} {
			r, err := RankSum(pair[0], pair[1])
			Expect(err).NotTo(HaveOccurred())
			Expect([]float64{r.Less, r.Greater, r.TwoSided}).To(Equal([]float64{1, 1, 1}))
		}
	})

	It("refuses NaN", func() {
		_, err := RankSum([]float64{1, math.NaN()}, []float64{2})
		Expect(err).To(MatchError(ErrRange))
		Expect(err).To(MatchError("stats: out of range: a value is no number"))
	})
})
