package console_test

import (
	"math/big"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/specs/console"
)

func rat(a, b int64) *big.Rat { return big.NewRat(a, b) }

func mul(x *big.Rat, more ...*big.Rat) *big.Rat {
	out := new(big.Rat).Set(x)
	for _, m := range more {
		out.Mul(out, m)
	}
	return out
}

func builtin(name string) console.Profile {
	GinkgoHelper()
	p, ok := console.Builtin(name)
	Expect(ok).To(BeTrue())
	return p
}

var _ = Describe("the built-in profiles", func() {
	// Colour subcarrier: 315/88 MHz exactly (SMPTE 170M; Recommendation ITU-R
	// BT.1700). Its identity with the broadcast field rate 60000/1001 Hz, over
	// 455/2 cycles a line and 525/2 lines a field, guards the constant. Crystal
	// 6x the subcarrier, dot clock crystal/4, 341 dots, 262 lines, one dot left
	// out every second frame: common practice, no source.
	It("derives the NTSC-family rate from the crystal", func() {
		subcarrier := mul(rat(315, 88), rat(1_000_000, 1))
		Expect(subcarrier.RatString()).To(Equal("39375000/11"))
		Expect(mul(subcarrier, rat(2, 455), rat(2, 525)).RatString()).To(Equal("60000/1001"))

		crystal := mul(subcarrier, rat(6, 1))
		Expect(crystal.RatString()).To(Equal("236250000/11"))
		dots := mul(crystal, rat(1, 4))
		Expect(dots.RatString()).To(Equal("59062500/11"))
		perFrame := new(big.Rat).Sub(rat(341*262, 1), rat(1, 2))
		rate := new(big.Rat).Quo(dots, perFrame)

		p := builtin("ntsc-8bit")
		Expect(rat(p.Rate.Num, p.Rate.Den).Cmp(rate)).To(BeZero())
		Expect(p.Rate).To(Equal(console.Rate{Num: 39375000, Den: 655171}))
		// Decimal value by exact rational arithmetic:
		// python3 -c "from fractions import Fraction as F; print(float(F(315,88)*10**6*6/4/(341*262-F(1,2))))"
		Expect(p.Rate.Hz()).To(BeNumerically("~", 60.09881389744052, 1e-13))
		Expect(p.Rate.Period()).To(BeNumerically("~", 0.016639263492063, 1e-15))
	})

	// Colour subcarrier: 4 433 618.75 Hz = 283.75 x 15 625 + 25 (ITU-R BT.470).
	// Crystal 6x, dot clock crystal/5, 341 x 312 dots: common practice, no
	// source.
	It("derives the PAL-family rate from the crystal", func() {
		subcarrier := new(big.Rat).Add(mul(rat(28375, 100), rat(15625, 1)), rat(25, 1))
		Expect(subcarrier.FloatString(2)).To(Equal("4433618.75"))
		rate := mul(subcarrier, rat(6, 1), rat(1, 5), rat(1, 341*312))

		p := builtin("pal-8bit")
		Expect(rat(p.Rate.Num, p.Rate.Den).Cmp(rate)).To(BeZero())
		Expect(p.Rate).To(Equal(console.Rate{Num: 322445, Den: 6448}))
		// python3 -c "from fractions import Fraction as F; print(float(6*F('4433618.75')/5/(341*312)))"
		Expect(p.Rate.Hz()).To(BeNumerically("~", 50.00697890818859, 1e-13))
		Expect(p.Rate.Period()).To(BeNumerically("~", 0.019997208826311, 1e-15))
	})

	// Shift order of the standard controller, raster, and a latch line that
	// loads the register while it is high: common practice, no source.
	It("has the eight buttons in shift order", func() {
		for _, name := range console.Names() {
			p := builtin(name)
			Expect(p.Buttons).To(Equal([]string{"a", "b", "select", "start", "up", "down", "left", "right"}))
			Expect([]int{p.Width, p.Height, p.Ports, p.ReadsPerFrame}).To(Equal([]int{256, 240, 2, 1}))
			Expect(p.LatchActive).To(Equal("high"))
			Expect(p.BurstGap).To(Equal(2 * time.Millisecond))
			Expect(p.Derivation).NotTo(BeEmpty())
			Expect(p.Validate()).To(Succeed())
		}
	})

	It("names them, and no others", func() {
		Expect(console.Names()).To(Equal([]string{"ntsc-8bit", "pal-8bit"}))
		_, ok := console.Builtin("ntsc")
		Expect(ok).To(BeFalse())
	})

	It("hands out copies", func() {
		builtin("ntsc-8bit").Buttons[0] = "changed"
		Expect(builtin("ntsc-8bit").Buttons[0]).To(Equal("a"))
		Expect(builtin("pal-8bit").Buttons[0]).To(Equal("a"))
	})
})

var _ = Describe("buttons and states", func() {
	p, _ := console.Builtin("ntsc-8bit")

	It("gives the bit of a button", func() {
		for want, name := range []string{"a", "b", "select", "start", "up", "down", "left", "right"} {
			bit, ok := p.ButtonBit(name)
			Expect(ok).To(BeTrue())
			Expect(bit).To(Equal(want))
		}
		_, ok := p.ButtonBit("c")
		Expect(ok).To(BeFalse())
	})

	It("names the buttons of a state, last shifted first", func() {
		Expect(p.StateNames(0)).To(Equal(""))
		Expect(p.StateNames(1)).To(Equal("a"))
		Expect(p.StateNames(1<<7 | 1<<1)).To(Equal("right+b"))
		Expect(p.StateNames(0xff)).To(Equal("right+left+down+up+start+select+b+a"))
		Expect(p.StateNames(0xff00)).To(Equal(""), "bits without a button")
	})

	It("finds a button in every one of 16 bits", func() {
		wide := console.Profile{Buttons: make([]string, 16)}
		for i := range wide.Buttons {
			wide.Buttons[i] = string(rune('a' + i))
		}
		bit, ok := wide.ButtonBit("p")
		Expect(ok).To(BeTrue())
		Expect(bit).To(Equal(15))
		Expect(wide.StateNames(1 << 15)).To(Equal("p"))
	})
})

var _ = Describe("the nearest name", func() {
	names := []string{"a", "b", "select", "start", "left", "right"}
	DescribeTable("is",
		func(word, want string, ok bool) {
			got, found := console.Nearest(word, names)
			Expect(found).To(Equal(ok))
			Expect(got).To(Equal(want))
		},
		Entry("equal but for case", "A", "a", true),
		Entry("one edit away", "lft", "left", true),
		Entry("two edits away", "strat", "start", true),
		Entry("not three edits away", "xyzrt", "", false),
		Entry("not a whole word away", "x", "", false),
		Entry("not for an empty word", "", "", false),
	)
	// The textbook example of the edit distance, kitten to sitting, is 3, one
	// more than is near; sittin to sitting is 1.
	It("counts edits", func() {
		_, ok := console.Nearest("kitten", []string{"sitting"})
		Expect(ok).To(BeFalse())
		_, ok = console.Nearest("kittin", []string{"sitting"})
		Expect(ok).To(BeTrue())
	})
})
