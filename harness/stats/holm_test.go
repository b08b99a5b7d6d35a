package stats

import (
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("Holm", func() {
	// Source: R 4.2.2, p.adjust(p, "holm").
	It("adjusts as R does, in the order given", func() {
		got := Holm([]float64{0.01, 0.04, 0.03, 0.005, 0.2, 0.04})
		for i, want := range []float64{0.05, 0.12, 0.12, 0.03, 0.20, 0.12} {
			Expect(got[i]).To(BeNumerically("~", want, 1e-15))
		}
		got = Holm([]float64{0.5, math.NaN(), 0.01, 0.6})
		Expect(got[0]).To(Equal(1.0))
		Expect(math.IsNaN(got[1])).To(BeTrue())
		Expect(got[2]).To(BeNumerically("~", 0.03, 1e-16))
		Expect(got[3]).To(Equal(1.0))
	})

	It("leaves one alone, takes none, and changes nothing it was given", func() {
		Expect(Holm(nil)).To(BeEmpty())
		p := []float64{0.04}
		Expect(Holm(p)).To(Equal([]float64{0.04}))
		p = []float64{0.04, 0.01}
		Holm(p)
		Expect(p).To(Equal([]float64{0.04, 0.01}))
	})
})
