package lockstep_test

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/lockstep"
	"latchproof/specs/console"
)

// strobing films a scene whose picture is turned, dark to bright, where on says so.
func strobing(s *scene, frames int, on func(f int) bool) *lockstep.Memory {
	GinkgoHelper()
	k, m := quiet(), lockstep.NewMemory(lockstep.Layout{W: 64, H: 64})
	for f := range frames {
		p := s.draw(f, nothing)
		if on(f) {
			for i, y := range p.Y {
				p.Y[i] = 235 - y
			}
		}
		Expect(m.Add(console.Frame(f), lockstep.Seen, k.shoot(p, f))).To(Succeed())
	}
	return m
}

var _ = Describe("a picture that differs again and again", func() {
	s := small(7)
	compare := func(on func(f int) bool) lockstep.Report {
		GinkgoHelper()
		rep, err := lockstep.Compare(run("a", clean(s, 300, 300, nothing), log(300)), run("b", strobing(s, 300, on), log(300)))
		Expect(err).NotTo(HaveOccurred())
		return rep
	}

	DescribeTable("parts the runs at its first frame", func(period, bright int) {
		rep := compare(func(f int) bool { return f >= 101 && f < 221 && (f-101)%period < bright })
		Expect(rep.Divergence).NotTo(BeNil())
		Expect(rep.Divergence.Kind).To(Equal(lockstep.KindPicture))
		Expect(rep.Divergence.Frame).To(BeEquivalentTo(101))
		Expect(rep.Suspects).To(BeEmpty())
		Expect(rep.Last).To(BeEquivalentTo(100))
	},
		Entry("5 flashes in 60 frames", 12, 6),
		Entry("10 flashes in 60 frames", 6, 3),
		Entry("15 flashes in 60 frames", 4, 2),
	)

	It("does not say of which part it is", func() {
		d := compare(func(f int) bool { return f >= 101 && f < 221 && (f-101)%12 < 6 }).Divergence
		Expect(d.Part).To(Equal(lockstep.PartUnknown))
		Expect(d.Why).To(ContainSubstring("it flickers: 12 pictures up to frame 118"))
	})

	// Single pictures unlike their neighbours are what a damaged recording looks
	// like: they are counted, and nothing more.
	It("in single pictures is trouble of the capture", func() {
		rep := compare(func(f int) bool { return f >= 101 && f < 221 && (f-101)%5 == 0 })
		Expect(rep.Divergence).To(BeNil())
		Expect(rep.Suspects).To(HaveLen(24))
	})

	It("seldom is a flicker, and no divergence", func() {
		rep := compare(func(f int) bool { return f%25 == 24 })
		Expect(rep.Divergence).To(BeNil())
		Expect(rep.Suspects).To(HaveLen(12))
	})
})
