package plot

import (
	"fmt"
	"math"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var label = Caption{ID: "x1", Title: "How long", Desc: "A curve."}

func survival(first Curve, second *Curve) drawing {
	GinkgoHelper()
	svg, err := Survival(label, first, second)
	Expect(err).NotTo(HaveOccurred())
	Expect(len(svg)).To(BeNumerically("<", 30_000))
	d := readBack(svg)
	d.expectRoom()
	return d
}

// The numbers are invented; what is asserted is that the drawing shows them.
var (
	steps = []Step{
		{Frame: 214, Share: 0.9, Low: 0.63, High: 0.98},
		{Frame: 318, Share: 0.9, Low: 0.63, High: 0.98, Cut: 2},
		{Frame: 525, Share: 0.6, Low: 0.31, High: 0.84},
		{Frame: 868, Share: 0.6, Low: 0.31, High: 0.84},
	}
	others = []Step{{Frame: 100, Share: 0.5, Low: 0.2, High: 0.8}, {Frame: 700, Share: 0.25, Low: 0.05, High: 0.6}}
)

// stairs are the corners of a step curve from frame 0 at 1.
func stairs(first float64, ss []Step, of func(Step) float64) (out [][2]float64) {
	out = [][2]float64{{0, first}}
	for _, s := range ss {
		out = append(out, [2]float64{s.Frame, out[len(out)-1][1]}, [2]float64{s.Frame, of(s)})
	}
	return out
}

// expectAt asserts that a stroke goes through places given in data, in their
// order, within what a tenth of a unit and the reading of the axes allow.
func (d drawing) expectAt(stroke [][2]float64, want [][2]float64, x, y func(float64) float64) {
	GinkgoHelper()
	i := 0
	for _, w := range want {
		found := false
		for ; i < len(stroke) && !found; i++ {
			found = math.Abs(x(stroke[i][0])-w[0]) <= math.Abs(x(0.3)-x(0)) && math.Abs(y(stroke[i][1])-w[1]) <= math.Abs(y(0.3)-y(0))
			if found {
				i--
			}
		}
		Expect(found).To(BeTrue(), "%v is not on the stroke", w)
	}
}

var _ = Describe("the survival curve", func() {
	It("lies where the data are, with its band, and ticks where repeats were cut", func() {
		d := survival(Curve{steps}, nil)
		x, y := d.scale(false, false, plain), d.scale(true, false, plain)
		share := func(s Step) float64 { return s.Share }
		Expect(d.paths["p-line-a"]).To(HaveLen(1))
		d.expectAt(d.paths["p-line-a"][0], stairs(1, steps, share), x, y)
		Expect(d.paths["p-edge-a"]).To(HaveLen(2))
		d.expectAt(d.paths["p-edge-a"][0], stairs(0.63, steps, func(s Step) float64 { return s.Low }), x, y)
		d.expectAt(d.paths["p-edge-a"][1], stairs(1, steps, func(s Step) float64 { return s.High }), x, y)
		Expect(d.paths["p-band-a"]).To(HaveLen(1))
		Expect(d.paths["p-cut-a"]).To(HaveLen(1))
		cut := d.paths["p-cut-a"][0]
		Expect(x(cut[0][0])).To(BeNumerically("~", 318, 0.5))
		Expect(y((cut[0][1] + cut[1][1]) / 2)).To(BeNumerically("~", 0.9, 0.002))
		Expect(d.paths).NotTo(HaveKey("p-line-b"))
		Expect(d.title).To(Equal("How long"))
		Expect(d.desc).To(Equal("A curve."))
	})

	It("draws a second one under classes of its own", func() {
		d := survival(Curve{steps}, &Curve{others})
		x, y := d.scale(false, false, plain), d.scale(true, false, plain)
		share := func(s Step) float64 { return s.Share }
		d.expectAt(d.paths["p-line-a"][0], stairs(1, steps, share), x, y)
		d.expectAt(d.paths["p-line-b"][0], stairs(1, others, share), x, y)
		Expect(d.paths["p-band-b"]).To(HaveLen(1))
		last := d.paths["p-line-b"][0]
		Expect(x(last[len(last)-1][0])).To(BeNumerically("~", 700, 0.5), "it is not drawn on to the end of the other")
	})

	It("is flat at 1 with its band when none parted, and says where its axis begins", func() {
		flat := []Step{{Frame: 36000, Share: 1, Low: 0.9876, High: 1}}
		d := survival(Curve{flat}, nil)
		x, y := d.scale(false, false, plain), d.scale(true, false, plain)
		d.expectAt(d.paths["p-line-a"][0], [][2]float64{{0, 1}, {36000, 1}}, x, y)
		d.expectAt(d.paths["p-edge-a"][0], [][2]float64{{0, 0.9876}, {36000, 0.9876}}, x, y)
		var names []string
		for _, w := range d.texts {
			names = append(names, w.text)
		}
		Expect(names).To(ContainElement("still in lockstep (the axis begins at 98 %)"))
	})

	It("draws no band where there are no limits", func() {
		d := survival(Curve{[]Step{{Frame: 10, Share: 0.5, Low: 0.2, High: 0.8}, {Frame: 20, Share: 0.4}, {Frame: 30, Share: 0.3, Low: 0.1, High: 0.7}, {Frame: 40, Share: 0, Low: 0, High: 0.5}}}, nil)
		x := d.scale(false, false, plain)
		Expect(d.paths["p-band-a"]).To(HaveLen(2))
		for i, want := range [][2]float64{{0, 20}, {30, 40}} {
			low, high := math.Inf(1), math.Inf(-1)
			for _, p := range d.paths["p-band-a"][i] {
				low, high = min(low, x(p[0])), max(high, x(p[0]))
			}
			Expect(low).To(BeNumerically("~", want[0], 0.1))
			Expect(high).To(BeNumerically("~", want[1], 0.1))
		}
	})

	It("stays small, and true within its step, with thousands of steps", func() {
		var many []Step
		for i := range 5000 {
			s := 1 - float64(i+1)/5001
			many = append(many, Step{Frame: float64(i*171 + 1), Share: s, Low: s * 0.9, High: s + (1-s)*0.1, Cut: int64(i % 2)})
		}
		d := survival(Curve{many}, &Curve{many})
		x, y := d.scale(false, false, plain), d.scale(true, false, plain)
		for _, p := range d.paths["p-line-a"][0] {
			Expect(y(p[1])).To(BeNumerically("~", 1-x(p[0])/(5000*171), 1.0/maxSteps+0.003), "one stretch, and the reading")
		}
	})

	It("is nothing without a step that can be drawn", func() {
		for _, bad := range [][]Step{nil, {{Frame: -1, Share: 1}}, {{Frame: math.NaN(), Share: 1}}, {{Frame: 1, Share: math.NaN()}}, {{Frame: math.Inf(1), Share: 0.5}}, {{Frame: 3, Share: 1.1}}} {
			_, err := Survival(label, Curve{bad}, nil)
			Expect(err).To(MatchError(ErrNothing))
		}
	})

	It("keeps its numbers apart whatever the length of the runs", func() {
		for _, end := range []float64{0, 1, 7, 99, 868, 36000, 864000, 12_345_678, 1e15, math.MaxInt64} {
			survival(Curve{[]Step{{Frame: end, Share: 0.99951, Low: 0.99947, High: 1}}}, nil)
			survival(Curve{[]Step{{Frame: end, Share: 0}}}, nil)
		}
	})
})

var _ = Describe("a drawing", func() {
	It("holds hostile text as text", func() {
		for _, bad := range []string{`</title><script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, "a\x00b\xff", `]]>`, `<!--`} {
			svg, err := Survival(Caption{ID: "x", Title: bad, Desc: bad}, Curve{steps}, nil)
			Expect(err).NotTo(HaveOccurred())
			d := readBack(svg)
			Expect(d.title).To(Equal(strings.ToValidUTF8(strings.ReplaceAll(bad, "\x00", "\uFFFD"), "\uFFFD")))
			Expect(d.desc).To(Equal(d.title))
		}
	})

	It("is refused an identifier that would break out of its attribute", func() {
		for _, bad := range []string{"", "a b", `a"`, "1a", "a>"} {
			_, err := Survival(Caption{ID: bad}, Curve{steps}, nil)
			Expect(err).To(MatchError(fmt.Sprintf("plot: %q cannot begin an identifier", bad)))
		}
	})

	It("is refused when the library draws what is not known", func() {
		for _, bad := range []string{
			`<svg><image/></svg>`, `<svg><g transform="rotate(3)"></g></svg>`, `<svg><path d="M1,2" style="fill:#000000"/></svg>`,
			`<svg><path d="M1,2A3,3 0 0 0 1,1" style="fill:#0404FF"/></svg>`, `<svg><path d="M1,2"/></svg>`, `<svg>`,
			`<svg><text x="a" y="1" style="fill:#0404FF">t</text></svg>`,
		} {
			_, err := rewrite([]byte(bad), label, 100, 100)
			Expect(err).To(MatchError(HavePrefix("plot: ")), bad)
		}
	})

	It("knows each role by its colour", func() {
		for r := range roles {
			for a := range anchors {
				gr, ga, ok := roleOf(r.colour(a))
				Expect(ok).To(BeTrue())
				Expect([2]int{int(gr), int(ga)}).To(Equal([2]int{int(r), int(a)}))
			}
		}
		known := map[string]bool{}
		for _, c := range append(Classes(), TrendClasses()...) {
			known[c] = true
		}
		Expect(known).To(HaveLen(int(roles) + 1))
	})
})
