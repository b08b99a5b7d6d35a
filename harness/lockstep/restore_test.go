package lockstep_test

import (
	"fmt"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/lockstep"
)

var _ = Describe("a tree that is put back", func() {
	s := small(11)
	same := func(n int) lockstep.Run {
		return run(fmt.Sprint("repeat ", n), clean(s, 60, 60, nothing), log(60))
	}
	gone := func(n, at int) lockstep.Run {
		return run(fmt.Sprint("repeat ", n), clean(s, 60, at, vanish), log(60))
	}
	step := func(n, at int) lockstep.Run {
		return run(fmt.Sprint("repeat ", n), clean(s, 60, at, stepOne), missed(60, at-1))
	}
	runs := []lockstep.Run{same(1), same(2), gone(3, 20), step(4, 42), gone(5, 20), same(6), step(7, 42), gone(8, 30), same(9), gone(10, 20)}

	It("is as it was, and takes further runs as it would have", func() {
		whole := lockstep.NewTree(lockstep.Options{})
		var members []lockstep.Member
		for _, r := range runs {
			Expect(whole.Add(r)).To(Succeed())
			members = append(members, whole.Latest())
		}
		Expect(whole.Families()).To(BeNumerically(">=", 3), "the case is not what it is meant to be")
		for cut := 1; cut <= len(runs); cut++ {
			t := lockstep.NewTree(lockstep.Options{})
			for i, m := range members {
				if i < cut && !m.Founder {
					Expect(t.Restore(m)).To(Succeed())
					continue
				}
				Expect(t.Add(runs[i])).To(Succeed())
				Expect(t.Latest()).To(Equal(m))
			}
			Expect(t.Result()).To(Equal(whole.Result()))
		}
	})

	It("refuses members that cannot be", func() {
		t := lockstep.NewTree(lockstep.Options{})
		Expect(t.Restore(lockstep.Member{Run: "a"})).NotTo(Succeed(), "there is no family yet")
		Expect(t.Add(same(1))).To(Succeed())
		Expect(t.Restore(lockstep.Member{Run: "a", Family: 1})).NotTo(Succeed())
		Expect(t.Restore(lockstep.Member{Run: "a", Family: -1})).NotTo(Succeed())
		Expect(t.Restore(lockstep.Member{Run: "a", Founder: true})).NotTo(Succeed())
		Expect(t.Restore(lockstep.Member{Run: "repeat 1"})).NotTo(Succeed())
		Expect(t.Restore(lockstep.Member{Run: "a"})).To(Succeed())
		Expect(t.Result().Families).To(HaveLen(1))
		Expect(t.Result().Families[0].Runs).To(Equal([]string{"repeat 1", "a"}))
	})
})
