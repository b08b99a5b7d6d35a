package reports

import (
	"fmt"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("the frame axis", func() {
	tenth := func(f int64) float64 { return float64(f) / 10 }

	It("joins frames that would touch into stretches", func() {
		Expect(merged([]int64{100, 101, 102, 200, 150}, tenth)).To(Equal([][2]float64{{10, 11.2}, {15, 16}, {20, 21}}))
		Expect(merged(nil, tenth)).To(BeEmpty())
		every := make([]int64, 36000)
		for i := range every {
			every[i] = int64(i) * 25
		}
		Expect(len(merged(every, func(f int64) float64 { return float64(f) / 900000 * 800 }))).To(BeNumerically("<=", 400))
	})

	It("draws a repeat in the families that it was in", func() {
		all := []Family{{Parent: -1}, {Parent: 0, From: 100}, {Parent: 1, From: 300}}
		id := func(f int64) float64 { return float64(f) }
		Expect(segments(all, 2, 500, id)).To(Equal([]segment{{0, 100, "f1", false}, {100, 300, "f2", false}, {300, 500, "f3", true}}))
		Expect(segments(all, 0, 500, id)).To(Equal([]segment{{0, 500, "f1", true}}))
		Expect(segments(all, -1, 500, id)).To(Equal([]segment{{0, 500, "f0", false}}))
		Expect(segments(all, 2, 200, id)).To(Equal([]segment{{0, 100, "f1", false}, {100, 200, "f2", false}}), "a record that stops before it parted")
	})

	It("ends with families that are one another's parents, or that do not exist", func() {
		ring := []Family{{Parent: 1, From: 5}, {Parent: 0, From: 5}}
		Expect(len(segments(ring, 0, 9, tenth))).To(BeNumerically("<=", 2))
		s := Spec{Repeats: []Repeat{{Name: "a", Family: 7, Frames: 10}}, Lockstep: Lockstep{Families: []Family{{Parent: 99}}}}
		Expect(frameAxis(s).Rows).To(HaveLen(1))
	})

	It("keeps a row of every family when there are too many repeats", func() {
		s := Spec{}
		for i := range 200 {
			s.Repeats = append(s.Repeats, Repeat{Name: fmt.Sprint(i), Frames: 10, Family: 0})
		}
		s.Repeats[150].Family, s.Repeats[199].Family = 1, -1
		s.Lockstep.Families = []Family{{Parent: -1}, {Parent: 0, From: 4}}
		a := frameAxis(s)
		Expect(a.Rows).To(HaveLen(maxRows))
		Expect(a.Left).To(Equal(200 - maxRows))
		Expect(a.Rows[maxRows-2].Name.Short).To(Equal("150"))
		Expect(a.Rows[maxRows-2].At).To(Equal("4"))
		Expect(a.Rows[maxRows-1].Label).To(Equal("–"))
	})

	It("is left out when there is no frame", func() {
		Expect(frameAxis(Spec{Repeats: []Repeat{{}}})).To(BeNil())
	})

	It("puts every frame inside its box", func() {
		s := sampleThree().Specs[0]
		s.Repeats[0].UnseenFrames = append(s.Repeats[0].UnseenFrames, -50, 1<<40)
		a := frameAxis(s)
		for _, r := range a.Rows {
			for _, g := range r.Segments {
				Expect(g.X1).To(BeNumerically(">=", axisLeft))
				Expect(g.X2).To(BeNumerically("<=", axisRight))
			}
		}
		Expect(a.Rows[0].UnseenD).NotTo(ContainSubstring("e+"))
	})

	DescribeTable("counts in steps of 1, 2 or 5", func(f float64, want int64) { Expect(niceStep(f)).To(Equal(want)) },
		Entry(nil, 0.1, int64(1)), Entry(nil, 1.5, int64(2)), Entry(nil, 108.5, int64(200)), Entry(nil, 4500.0, int64(5000)), Entry(nil, 5000.1, int64(10000)))
})
