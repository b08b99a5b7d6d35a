package plot

import (
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func spacing(bins []Bin) drawing {
	GinkgoHelper()
	svg, err := Spacing(label, bins)
	Expect(err).NotTo(HaveOccurred())
	Expect(len(svg)).To(BeNumerically("<", 30_000))
	d := readBack(svg)
	d.expectRoom()
	return d
}

var _ = Describe("the histogram of read spacings", func() {
	It("has a bar for each bin that holds reads, where the data are", func() {
		bins := []Bin{{-12, -8, 3}, {-8, -4, 40}, {-4, 0, 410}, {0, 4, 388}, {4, 8, 31}, {8, 12, 0}, {12, 16, 1}}
		d := spacing(bins)
		x, y := d.scale(false, false, plain), d.scale(true, false, plain)
		unit := math.Abs(x(1) - x(0))
		var want []Bin
		for _, b := range bins {
			if b.Count > 0 {
				want = append(want, b)
			}
		}
		Expect(d.paths["p-bar"]).To(HaveLen(len(want)))
		for i, b := range want {
			bar := d.paths["p-bar"][i]
			Expect(x(bar[0][0])).To(BeNumerically("~", b.FromUS, unit))
			Expect(x(bar[2][0])).To(BeNumerically("~", b.ToUS, unit))
			Expect(y(bar[0][1])).To(BeNumerically("~", 0, 1))
			if b.Count > 5 {
				Expect(y(bar[1][1])).To(BeNumerically("~", float64(b.Count), 1))
			} else {
				Expect(bar[0][1]-bar[1][1]).To(BeNumerically("~", lowestBar, 0.11), "low, but to be seen")
			}
		}
		zero := d.paths["p-zero"][0]
		Expect(x(zero[0][0])).To(BeNumerically("~", 0, unit/2))
		Expect(y(max(zero[0][1], zero[1][1]))).To(BeNumerically(">", 410), "it hides no bar")
	})

	It("stays small with thousands of bins and keeps their reads", func() {
		var bins []Bin
		for i := range 5000 {
			bins = append(bins, Bin{float64(i), float64(i + 1), 10})
		}
		d := spacing(bins)
		Expect(len(d.paths["p-bar"])).To(BeNumerically("<=", maxBins))
		var all int64
		for _, b := range fewerBins(bins) {
			all += b.Count
		}
		Expect(all).To(Equal(int64(50_000)))
	})

	It("shows one spacing only, far ones, and large counts", func() {
		for _, bins := range [][]Bin{
			{{-0.5, 0.5, 1}}, {{0, 1e-7, 7}}, {{16639, 16640, 2}}, {{-1e9, 1e9, math.MaxInt64}}, {{-3, -2, 999_999}}, {{1e15, 2e15, 5}},
		} {
			Expect(spacing(bins).paths["p-bar"]).To(HaveLen(1))
		}
	})

	It("is nothing without reads", func() {
		for _, bins := range [][]Bin{nil, {{0, 1, 0}}, {{2, 1, 3}}, {{math.NaN(), 1, 3}}, {{math.Inf(-1), 1, 3}}} {
			_, err := Spacing(label, bins)
			Expect(err).To(MatchError(ErrNothing))
		}
	})
})
