package plot

import (
	"math"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func allan(adev, tdev []Point) drawing {
	GinkgoHelper()
	svg, err := Allan(label, adev, tdev)
	Expect(err).NotTo(HaveOccurred())
	Expect(len(svg)).To(BeNumerically("<", 30_000))
	d := readBack(svg)
	d.expectRoom()
	return d
}

// whiteNoise is a deviation that falls with the averaging time, with limits.
func whiteNoise(n int, at, slope float64) (out []Point) {
	for k := range n {
		tau := math.Ldexp(1/60.0988, k)
		v := at * math.Pow(tau, slope)
		out = append(out, Point{tau, v, v * 0.9, v * 1.2})
	}
	return out
}

var _ = Describe("the stability plot", func() {
	DescribeTable("has its points where the data are, on logarithmic axes, with their limits",
		func(adev, tdev []Point, by float64, end string) {
			d := allan(adev, tdev)
			x, y := d.scale(false, true, plain), d.scale(true, true, plain)
			ps := append(append([]Point{}, adev...), tdev...)
			Expect(d.paths["p-line-"+end]).To(HaveLen(1))
			line := d.paths["p-line-"+end][0]
			Expect(line).To(HaveLen(len(ps)))
			Expect(d.paths["p-dot-"+end]).To(HaveLen(len(ps)))
			Expect(d.paths["p-edge-"+end]).To(HaveLen(len(ps)))
			near := math.Abs(y(0.5)/y(0) - 1) // half a unit
			for i, p := range ps {
				Expect(x(line[i][0])).To(BeNumerically("~", p.TauS, p.TauS*0.01))
				Expect(y(line[i][1])).To(BeNumerically("~", p.Value*by, p.Value*by*near))
				bar := d.paths["p-edge-"+end][i]
				Expect(y(bar[0][1])).To(BeNumerically("~", p.Low*by, p.Low*by*near))
				Expect(y(bar[1][1])).To(BeNumerically("~", p.High*by, p.High*by*near))
			}
		},
		Entry("Allan deviation", whiteNoise(12, 3e-8, -1), nil, 1.0, "a"),
		Entry("time deviation, in microseconds", nil, whiteNoise(12, 2e-6, -0.5), 1e6, "b"),
	)

	It("has two panels whose averaging times stand one above the other", func() {
		d := allan(whiteNoise(10, 3e-8, -1), whiteNoise(10, 2e-6, -0.5))
		a, b := d.paths["p-line-a"][0], d.paths["p-line-b"][0]
		for i := range a {
			Expect(a[i][0]).To(BeNumerically("~", b[i][0], 0.5), "half a unit is less than half the width of a line")
			Expect(a[i][1]).To(BeNumerically("<", b[i][1]))
		}
		var names []string
		for _, w := range d.texts {
			if w.class == "p-name" {
				names = append(names, w.text)
			}
		}
		Expect(strings.Join(names, "; ")).To(Equal("Allan deviation; averaging time, s; time deviation, µs; averaging time, s"))
	})

	It("draws a point without limits without them, and leaves out what has no place", func() {
		d := allan([]Point{{1, 1e-6, 0, 0}, {0, 1, 0, 0}, {2, 0, 0, 0}, {4, math.NaN(), 0, 0}, {math.Inf(1), 1, 0, 0}, {8, 2e-6, 3e-6, 1e-6}}, nil)
		Expect(d.paths["p-dot-a"]).To(HaveLen(2))
		Expect(d.paths).NotTo(HaveKey("p-edge-a"))
		_, err := Allan(label, []Point{{0, 1, 0, 0}}, nil)
		Expect(err).To(MatchError(ErrNothing))
	})

	It("keeps its numbers apart whatever the range", func() {
		for _, ps := range [][]Point{
			{{1, 1, 0, 0}}, {{0.0166, 1e-9, 0, 0}, {0.0333, 1.01e-9, 0, 0}}, {{1e-300, 1e-300, 0, 0}, {1e290, 1e290, 0, 0}},
			{{0.001, 1e-12, 0, 0}, {100000, 1e-3, 0, 0}}, whiteNoise(70, 3e-8, -1), {{99, 5e3, 4e3, 6e3}},
		} {
			allan(ps, ps)
		}
	})
})
