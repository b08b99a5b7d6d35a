package shrink_test

import (
	"errors"
	"math/bits"
	"math/rand/v2"
	"slices"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/shrink"
)

// bitsOf is a set of indexes below 64 as bits.
func bitsOf(set []int) (b uint64) {
	for _, i := range set {
		b |= 1 << i
	}
	return b
}

// minimized runs Minimize and checks what must hold whatever the oracle is: the
// result passes, nothing single can be taken out of it, and the number of tests.
func minimized(n int, passes func(set uint64) bool) uint64 {
	GinkgoHelper()
	tests := 0
	kept, err := shrink.Minimize(n, func(kept []int) (bool, error) {
		tests++
		if !slices.IsSorted(kept) {
			Fail("not in order")
		}
		return passes(bitsOf(kept)), nil
	})
	Expect(err).NotTo(HaveOccurred())
	set := bitsOf(kept)
	if !passes(set) {
		Fail("the result does not pass")
	}
	for _, i := range kept {
		if passes(set &^ (1 << i)) {
			Fail("something single can still be taken out")
		}
	}
	// Zeller and Hildebrandt (2002), proposition 12: at most n²+3n tests.
	Expect(tests).To(BeNumerically("<=", n*n+3*n))
	return set
}

var _ = Describe("delta debugging", func() {
	It("finds exactly what is needed when more never harms", func() {
		r := rand.New(rand.NewPCG(1, 0))
		for range 3000 {
			n := 1 + r.IntN(60)
			need := r.Uint64() & r.Uint64() & (1<<n - 1)
			if r.IntN(3) == 0 {
				need &= r.Uint64() & r.Uint64()
			}
			Expect(minimized(n, func(set uint64) bool { return set&need == need })).To(Equal(need))
		}
	})

	It("finds one of several that are enough each", func() {
		r := rand.New(rand.NewPCG(2, 0))
		for range 2000 {
			n := 2 + r.IntN(40)
			var enough []uint64
			for range 1 + r.IntN(4) {
				enough = append(enough, r.Uint64()&r.Uint64()&(1<<n-1))
			}
			got := minimized(n, func(set uint64) bool {
				return slices.ContainsFunc(enough, func(e uint64) bool { return set&e == e })
			})
			Expect(enough).To(ContainElement(got))
		}
	})

	It("ends with nothing single to take out for any oracle whatever", func() {
		r := rand.New(rand.NewPCG(3, 0))
		for range 3000 {
			n := 1 + r.IntN(24)
			seed, chance := r.Uint64(), r.Uint64N(100)
			full := uint64(1)<<n - 1
			minimized(n, func(set uint64) bool {
				return set == full || rand.New(rand.NewPCG(seed, set)).Uint64N(100) < chance
			})
		}
	})

	It("needs few tests for a single culprit", func() {
		for at := range 64 {
			tests := 0
			kept, err := shrink.Minimize(64, func(kept []int) (bool, error) {
				tests++
				return slices.Contains(kept, at), nil
			})
			Expect(err).NotTo(HaveOccurred())
			Expect(kept).To(Equal([]int{at}))
			Expect(tests).To(BeNumerically("<=", 2*bits.Len(64)))
		}
	})

	It("gives what it has when a test fails", func() {
		broken := errors.New("broken")
		tests := 0
		kept, err := shrink.Minimize(16, func(kept []int) (bool, error) {
			if tests++; tests == 4 {
				return true, broken
			}
			return slices.Contains(kept, 3), nil
		})
		Expect(err).To(MatchError(broken))
		Expect(kept).To(ContainElement(3))
		Expect(len(kept)).To(BeNumerically("<", 16))
	})

	It("has nothing to do with nothing", func() {
		Expect(shrink.Minimize(0, nil)).To(BeEmpty())
	})
})

var _ = Describe("bisecting a count", func() {
	It("finds the least that passes, in a logarithmic number of tests", func() {
		for have := int64(1); have < 200; have++ {
			for least := int64(1); least <= have; least++ {
				for _, near := range []bool{false, true} {
					tests := 0
					got, err := shrink.Least(have, near, func(n int64) (bool, error) {
						tests++
						return n >= least, nil
					})
					Expect(err).NotTo(HaveOccurred())
					if got != least {
						Expect(got).To(Equal(least))
					}
					if most := bits.Len64(uint64(have)) + 1; tests > most {
						Expect(tests).To(BeNumerically("<=", most))
					}
				}
			}
		}
	})

	It("ends where one less fails, whatever passes", func() {
		r := rand.New(rand.NewPCG(4, 0))
		for range 3000 {
			have := 1 + r.Int64N(500)
			pass := map[int64]bool{have: true}
			for n := range have {
				pass[n] = r.IntN(2) == 0
			}
			got, err := shrink.Least(have, r.IntN(2) == 0, func(n int64) (bool, error) { return pass[n], nil })
			Expect(err).NotTo(HaveOccurred())
			Expect(pass[got]).To(BeTrue())
			if got > 1 {
				Expect(pass[got-1]).To(BeFalse())
			}
		}
	})
})
