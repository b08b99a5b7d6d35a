package stats

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("ParseClaim", func() {
	DescribeTable("reads",
		func(text string, want Claim, again string) {
			c, err := ParseClaim(text)
			Expect(err).NotTo(HaveOccurred())
			Expect(c).To(Equal(want))
			Expect(c.String()).To(Equal(again))
		},
		Entry(nil, "divergence below 1% at 95%", Claim{0.01, 0.95}, "divergence below 1% at 95%"),
		Entry(nil, "divergence below 0.01 at 0.95", Claim{0.01, 0.95}, "divergence below 1% at 95%"),
		Entry(nil, "divergence below 1 in 100 at 95%", Claim{0.01, 0.95}, "divergence below 1% at 95%"),
		Entry(nil, "  divergence  below .7 %  at 19 in 20 ", Claim{0.007, 0.95}, "divergence below 0.7% at 95%"),
		Entry(nil, "divergence below 1 in 1000000 at 99.9%", Claim{1e-6, 0.999}, "divergence below 0.0001% at 99.9%"),
		Entry(nil, "divergence below 50% at 90%", Claim{0.5, 0.9}, "divergence below 50% at 90%"),
	)

	DescribeTable("refuses",
		func(text, problem string) {
			_, err := ParseClaim(text)
			Expect(err).To(MatchError(ErrRange))
			Expect(err).To(MatchError(problem))
		},
		Entry(nil, "", `stats: out of range: claim "" is not of the form "divergence below 1% at 95%"`),
		Entry(nil, "divergence above 1% at 95%", `stats: out of range: claim "divergence above 1% at 95%" is not of the form "divergence below 1% at 95%"`),
		Entry(nil, "divergence below 1e-2 at 95%", `stats: out of range: "1e-2" in claim "divergence below 1e-2 at 95%" is not a rate like 1%, 0.01 or 1 in 100`),
		Entry(nil, "divergence below -1% at 95%", `stats: out of range: "-1%" in claim "divergence below -1% at 95%" is not a rate like 1%, 0.01 or 1 in 100`),
		Entry(nil, "divergence below 1 in 0 at 95%", `stats: out of range: "1 in 0" in claim "divergence below 1 in 0 at 95%" is not a rate like 1%, 0.01 or 1 in 100`),
		Entry(nil, "divergence below 0% at 95%", "stats: out of range: rate 0 is not between 0 and 1"),
		Entry(nil, "divergence below 1% at 95", "stats: out of range: confidence 95 is not between 0 and 1"),
		Entry(nil, "divergence below 1% at 100%", "stats: out of range: confidence 1 is not between 0 and 1"),
	)
})

func FuzzParseClaim(f *testing.F) {
	for _, s := range []string{"divergence below 1% at 95%", "divergence below 1 in 3 at 0.999", "divergence below .07 % at 2 in 3"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		c, err := ParseClaim(s)
		if err != nil {
			return
		}
		again, err := ParseClaim(c.String())
		if err != nil || again != c {
			t.Fatalf("%q is %+v, written %q, read back as %+v, %v", s, c, c.String(), again, err)
		}
	})
}
