package reports

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("words", func() {
	DescribeTable("whole numbers go in groups of three",
		func(n int64, want string) { Expect(count(n)).To(Equal(want)) },
		Entry(nil, int64(0), "0"), Entry(nil, int64(999), "999"), Entry(nil, int64(1000), "1,000"),
		Entry(nil, int64(36000), "36,000"), Entry(nil, int64(1234567), "1,234,567"), Entry(nil, int64(-100000), "−100,000"),
	)
	DescribeTable("limits of an interval are rounded outwards",
		func(f float64, up bool, want string) { Expect(percent(f, up)).To(Equal(want + "\u00a0%")) },
		Entry(nil, 0.39763, false, "39.7"), Entry(nil, 0.39763, true, "39.8"), Entry(nil, 0.999999, false, "99.9"),
		Entry(nil, 1.0, false, "100"), Entry(nil, 0.0, true, "0"), Entry(nil, 0.29, true, "29"), Entry(nil, 0.29, false, "29"), Entry(nil, 7.0, true, "100"),
	)
	It("are cut between characters, not inside one", func() {
		short, rest := cut("añ😀b", 3)
		Expect(short).To(Equal("añ😀"))
		Expect(rest).To(Equal(1))
		short, rest = cut("añ😀", 3)
		Expect(short).To(Equal("añ😀"))
		Expect(rest).To(BeZero())
	})
	It("of a kind say what it means", func() {
		Expect(kindWords(Divergence{Kind: "shift", Shift: 2})).To(Equal("the same pictures, 2 frames later, for a while"))
		Expect(kindWords(Divergence{Kind: "shift", Shift: -1, Stays: true})).To(Equal("the same pictures, 1 frame earlier, to the end"))
		for _, k := range []string{"input", "picture", "flicker", "end", "shift"} {
			Expect(kindWords(Divergence{Kind: k})).NotTo(BeEmpty())
		}
		Expect(kindWords(Divergence{Kind: "unheard of"})).To(BeEmpty())
	})
})

var _ = Describe("names beside the frame axis", func() {
	It("keep the end of a long path, and the beginning of other names", func() {
		Expect(nameBesideAxis("runs/the-built-in-simulated-bench/run-002")).To(Equal(name{Short: "…ated-bench/run-002", Full: "runs/the-built-in-simulated-bench/run-002"}))
		Expect(nameBesideAxis("repeat 3")).To(Equal(name{Short: "repeat 3"}))
		Expect(nameBesideAxis("a name that is much too long").Short).To(Equal("a name that is muc…"))
	})
})
