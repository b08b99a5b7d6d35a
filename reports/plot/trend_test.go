package plot

import (
	"math"
	"strings"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

func trended(s Scale, series ...TrendSeries) (drawing, int) {
	GinkgoHelper()
	svg, left, err := Trend(label, s, series)
	Expect(err).NotTo(HaveOccurred())
	Expect(len(svg)).To(BeNumerically("<", 30_000))
	d := readBack(svg)
	d.expectRoom()
	return d, left
}

// day reads a tick such as "5 Mar" of the year 2026, in days after noon.
func day(s string) float64 {
	GinkgoHelper()
	t, err := time.Parse("2 Jan 2006", s+" 2026")
	Expect(err).NotTo(HaveOccurred())
	return t.Sub(noon).Hours() / 24
}

var _ = Describe("a trend", func() {
	It("has its points, what they reach over and its lines where the data are", func() {
		var a, b []TrendPoint
		for i := range 8 {
			v := 1 - float64(i)/10
			a = append(a, TrendPoint{noon.AddDate(0, 0, 2*i), v, v - 0.2, v})
			b = append(b, TrendPoint{noon.AddDate(0, 0, 2*i+1), 0.5, 1, 0}) // no limits
		}
		d, left := trended(Scale{Name: "share", Share: true}, TrendSeries{1, a}, TrendSeries{2, b})
		Expect(left).To(BeZero())
		x, y := d.scale(false, false, day), d.scale(true, false, plain)
		unit := math.Abs(y(1) - y(0))
		hour := math.Abs(x(1)-x(0)) / 2
		Expect(d.paths["p-mark-1"]).To(HaveLen(8))
		Expect(d.paths["p-reach-1"]).To(HaveLen(8))
		for i, m := range d.paths["p-mark-1"] {
			cx, cy := (m[0][0]+m[2][0])/2, (m[0][1]+m[2][1])/2
			Expect(x(cx)).To(BeNumerically("~", 2*float64(i), hour))
			Expect(y(cy)).To(BeNumerically("~", a[i].Value, unit))
			r := d.paths["p-reach-1"][i]
			Expect(y(max(r[0][1], r[1][1]))).To(BeNumerically("~", a[i].Low, unit))
			Expect(y(min(r[0][1], r[1][1]))).To(BeNumerically("~", a[i].High, unit))
		}
		Expect(d.paths["p-line-1"]).To(HaveLen(1))
		Expect(d.paths["p-mark-2"]).To(HaveLen(8))
		Expect(d.paths).NotTo(HaveKey("p-reach-2"))
	})

	It("puts the points of a series in order, and gives all looks their own classes", func() {
		var all []TrendSeries
		for k := range Styles {
			all = append(all, TrendSeries{k, []TrendPoint{{noon.AddDate(0, 1, 0), 2, 1, 3}, {noon, 1, 1, 1}}})
		}
		d, _ := trended(Scale{Name: "µs", HighIsBad: true}, all...)
		for _, c := range TrendClasses()[5:] {
			Expect(d.paths).To(HaveKey(c))
		}
		Expect(d.paths).NotTo(HaveKey("p-line-0"))
		line := d.paths["p-line-3"][0]
		Expect(line[0][0]).To(BeNumerically("<", line[1][0]))
		Expect(line[0][1]).To(BeNumerically(">", line[1][1]), "1 is below 2")
	})

	It("of many points keeps the worst and the latest, and says how many it left out", func() {
		for _, bad := range []bool{true, false} {
			var all []TrendSeries
			n := 0
			for k := range Styles {
				var ps []TrendPoint
				for i := range 3000 {
					v := 5 + math.Sin(float64(i))
					if i == 1234 {
						v = 9
					}
					if i == 1432 {
						v = 1
					}
					ps = append(ps, TrendPoint{noon.Add(time.Duration(i) * 7 * time.Hour), v, v - 0.5, v + 0.5})
					n++
				}
				all = append(all, TrendSeries{k, ps})
			}
			d, left := trended(Scale{Name: "µs", HighIsBad: bad}, all...)
			shown := len(d.paths["p-mark-1"])
			Expect(shown).To(BeNumerically("<=", maxTrend/Styles))
			Expect(shown).To(BeNumerically(">", maxTrend/Styles/2))
			Expect(left).To(Equal(n - 4*shown - len(d.paths["p-mark-0"])/2))
			y := d.scale(true, false, plain)
			want := map[bool]float64{true: 9, false: 1}[bad]
			var found bool
			for _, m := range d.paths["p-mark-1"] {
				found = found || math.Abs(y((m[0][1]+m[2][1])/2)-want) < 0.1
			}
			Expect(found).To(BeTrue(), "the worst of all")
			line := d.paths["p-line-1"][0]
			mark := d.paths["p-mark-1"]
			Expect(line[len(line)-1][0]).To(BeNumerically("~", (mark[len(mark)-1][0][0]+mark[len(mark)-1][2][0])/2, 0.2))
		}
	})

	It("draws one point, equal ones, values below zero and long times with room for its numbers", func() {
		for _, ps := range [][]TrendPoint{
			{{noon, 5, 4, 6}}, {{noon, 0, 0, 0}}, {{noon, -3, -4, 1}, {noon.Add(time.Second), 2, 2, 2}},
			{{noon, 1e7, 1, 1e7}, {noon.AddDate(0, 0, 9), 1, 1, 1}}, {{noon, -1e6, -1e6, 1e6}, {noon.AddDate(26, 0, 0), 1, 1, 1}},
			{{noon.AddDate(-26, 0, 0), 1, 1, 1}, {noon.AddDate(300, 0, 0), 2, 1, 2}},
		} {
			d, _ := trended(Scale{Name: "ppm", Free: true}, TrendSeries{4, ps})
			Expect(d.paths["p-mark-4"]).To(HaveLen(len(ps)))
			Expect(d.title).To(Equal(label.Title))
		}
	})

	It("is nothing without points", func() {
		for _, ps := range [][]TrendPoint{nil, {{time.Time{}, 1, 1, 1}}, {{noon, math.NaN(), 0, 1}}, {{noon, math.Inf(1), 0, 1}}} {
			_, _, err := Trend(label, Scale{}, []TrendSeries{{1, ps}})
			Expect(err).To(MatchError(ErrNothing))
		}
	})
})

var _ = Describe("the calendar", func() {
	DescribeTable("gives ticks at whole units of UTC, no more than it may",
		func(from, to string, want string) {
			a, err := time.Parse(time.RFC3339, from)
			Expect(err).NotTo(HaveOccurred())
			b, err := time.Parse(time.RFC3339, to)
			Expect(err).NotTo(HaveOccurred())
			var got []string
			for _, t := range calendar(a, b, 5) {
				got = append(got, t.Label)
				at := time.UnixMilli(int64(t.Value * 1e3))
				Expect(at.Before(a) || at.After(b)).To(BeFalse())
			}
			Expect(strings.Join(got, ", ")).To(Equal(want))
		},
		Entry("an hour", "2026-03-01T10:05:00Z", "2026-03-01T11:05:00Z", "10:15, 10:30, 10:45, 11:00"),
		Entry("another zone", "2026-03-01T10:05:00+02:00", "2026-03-01T11:05:00+02:00", "08:15, 08:30, 08:45, 09:00"),
		Entry("a day", "2026-03-01T10:05:00Z", "2026-03-02T10:05:00Z", "12:00, 18:00, 00:00, 06:00"),
		Entry("days, over the end of February", "2026-02-25T10:00:00Z", "2026-03-03T10:00:00Z", "27 Feb, 1 Mar, 3 Mar"),
		Entry("a leap day", "2028-02-26T10:00:00Z", "2028-03-02T00:00:00Z", "27 Feb, 28 Feb, 29 Feb, 1 Mar, 2 Mar"),
		Entry("a month", "2026-03-02T00:00:00Z", "2026-04-05T00:00:00Z", "11 Mar, 21 Mar, 1 Apr"),
		Entry("half a year", "2026-01-15T00:00:00Z", "2026-06-10T00:00:00Z", "Feb 26, Mar 26, Apr 26, May 26, Jun 26"),
		Entry("years", "2020-01-15T00:00:00Z", "2026-06-10T00:00:00Z", "2022, 2024, 2026"),
		Entry("centuries", "2000-01-15T00:00:00Z", "2299-06-10T00:00:00Z", "2050, 2100, 2150, 2200, 2250"),
	)
})
