package judge_test

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/judge"
	"latchproof/specs/console"
)

var _ = Describe("a picture that comes again and is the only one that stands still", func() {
	// An uneven walk: changes as an H.264 stream of the simulated bench has them
	// (noise 5, 1280x720, constant rate factor 26), over one picture and over two.
	var still map[int][2]float32 // per picture that stands still: change, and of the block that changes most
	walk := func(n int) *judge.Motion {
		m := &judge.Motion{}
		for k := range n {
			one := []float32{1.7e6, 1.2e6, 7e5, 1.9e6, 1.0e6}[k%5]
			two, most := 1.4*one+4e5, one/8
			if _, ok := still[k-1]; ok {
				one *= 1.5
			}
			if s, ok := still[k]; ok {
				one, most = s[0], s[1]
			}
			if k == 0 {
				one, two, most = -1, -1, -1
			}
			m.Append(one, two, most)
		}
		return m
	}
	never := func(int) bool { return false }
	BeforeEach(func() { still = map[int][2]float32{} })

	It("is one without a clear step by two, also soon after the beginning", func() {
		still[40] = [2]float32{7352, 202}
		m := walk(100)
		Expect(m.Again(40)).To(BeZero())
		Expect(m.Rare(40, 1, never)).To(Equal(1))
		Expect(m.Rare(39, 1, never)).To(BeZero())
		still = map[int][2]float32{2: {536, 13}, 3: {1842, 161}}
		Expect(walk(32).Rare(2, 1, never)).To(Equal(2))
		Expect(walk(24).Rare(2, 1, never)).To(BeZero(), "after too few pictures to know the motion by")
	})

	It("is one beside pictures that are expected to stand still", func() {
		still[40] = [2]float32{7352, 202}
		for k := 60; k < 80; k++ {
			still[k] = [2]float32{5000, 150}
		}
		m := walk(100)
		Expect(m.Rare(40, 1, never)).To(BeZero())
		Expect(m.Rare(40, 1, func(k int) bool { return k >= 60 && k < 80 })).To(Equal(1))
		Expect(m.Rare(60, 1, never)).To(BeZero(), "a game that stands still for long")
	})

	It("is one among pictures that a fast card took of one frame, and in the run's first picture", func() {
		for k := 24; k < 100; k += 5 {
			still[k] = [2]float32{5529, 183}
		}
		one := func(k int) bool { return k%5 == 4 && k != 49 }
		still[50] = [2]float32{1092, 91}
		m := walk(100)
		Expect(m.Rare(44, 1, one)).To(BeZero())
		Expect(m.Rare(49, 1, one)).To(Equal(2))
		still[55] = [2]float32{1092, 91} // 54 is of the frame of 53, 55 should be of the next
		Expect(walk(100).Rare(55, 1, one)).To(Equal(1))
		Expect(walk(100).Rare(55, 1, never)).To(BeZero())
		still = map[int][2]float32{}
		for k := range 11 { // dark, the last of them once more in place of the first frame
			still[k] = [2]float32{20, 17}
		}
		Expect(walk(100).Rare(10, 10, never)).To(Equal(1))
		Expect(walk(100).Rare(10, 9, never)).To(BeZero())
	})

	It("is the game's own when its motion stops now and then, or is slight", func() {
		for k := 5; k < 100; k += 10 {
			still[k] = [2]float32{536, 13}
		}
		Expect(walk(100).Rare(45, 1, never)).To(BeZero())
		still = map[int][2]float32{40: {7352, 202}, 70: {9e5, 16 * 201}}
		Expect(walk(100).Rare(40, 1, never)).To(BeZero())
		still[70] = [2]float32{2 * 7351, 16 * 202}
		Expect(walk(100).Rare(40, 1, never)).To(BeZero())
		still[70] = [2]float32{2 * 7352, 16 * 202}
		Expect(walk(100).Rare(40, 1, never)).To(Equal(1))
	})

	It("is the game's own when even motion goes on by one step", func() {
		m := &judge.Motion{}
		for k := range 60 {
			one, two := float32(5000), float32(10000)
			if k == 30 {
				one, two = 4, 5000
			}
			m.Append(one, two, one)
		}
		Expect(m.Rare(30, 1, never)).To(BeZero())
	})

	// A console that misses every fifth read and shows that so many frames later.
	It("is told beside lag frames, when it is known how long after them the picture stands still", func() {
		frames := make([]int, 100)
		lagging := map[console.Frame]bool{}
		for k := range frames {
			frames[k] = k
			if k%5 == 3 {
				lagging[console.Frame(k)] = true
			}
		}
		for delay := range 3 {
			still = map[int][2]float32{50: {1092, 91}} // the card's own
			for k := 3 + delay; k < 100; k += 5 {
				still[k] = [2]float32{394, 64}
			}
			lag, known := walk(100).Delay(50, claims(frames), lagging)
			Expect(known).To(BeTrue())
			Expect(lag).To(BeEquivalentTo(delay))
		}
		still = map[int][2]float32{}
		_, known := walk(100).Delay(50, claims(frames), lagging)
		Expect(known).To(BeFalse(), "lag frames that do not show")
		for k := 3; k < 100; k += 5 {
			still[k], still[k+1] = [2]float32{394, 64}, [2]float32{394, 64}
		}
		_, known = walk(100).Delay(50, claims(frames), lagging)
		Expect(known).To(BeFalse(), "two stills after each")
		delete(still, 4)
		for k := 9; k < 100; k += 5 {
			delete(still, k)
		}
		_, known = walk(18).Delay(10, claims(frames[:18]), lagging)
		Expect(known).To(BeFalse(), "three lag frames")
	})
})
