package harness_test

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness"
)

var _ = Describe("the spread of a value over repeats", func() {
	DescribeTable("is told", func(want string, values ...any) {
		s := harness.SpreadOf(values)
		if want == "" {
			Expect(s).To(BeNil())
			return
		}
		Expect(s.String()).To(Equal(want))
	},
		Entry(nil, ""),
		Entry(nil, "", nil, "A7"),
		Entry(nil, "6 in the one repeat that has it", 6, nil),
		Entry(nil, "6 in all 3 repeats", 6, 6, 6),
		Entry(nil, "5 to 7 over 3 repeats", 6, 5, 7),
		Entry(nil, "(1, 0) in all 2 repeats", [2]int{1, 0}, [2]int{1, 0}),
		Entry(nil, "x 1 to 3, y 0 over 2 repeats", [2]int{3, 0}, [2]int{1, 0}),
		Entry(nil, "x -2, y -1 to 4 over 3 repeats", [2]int{-2, 4}, [2]int{-2, -1}, nil, [2]int{-2, 0}),
	)
})
