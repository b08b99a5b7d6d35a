package specs_test

import (
	"runtime"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/specs"
)

// allocated is how much f takes from the heap, bytes: the least of three tries,
// because other goroutines of the process are counted too.
func allocated(f func()) uint64 {
	var least uint64
	for i := range 3 {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		f()
		runtime.ReadMemStats(&after)
		if n := after.TotalAlloc - before.TotalAlloc; i == 0 || n < least {
			least = n
		}
	}
	return least
}

var _ = Describe("YAML that is made to cost much", func() {
	// The classic bomb: nine levels of nine aliases each are 9^9 values when they
	// are expanded. They never are: aliases are refused in the tree as it is read.
	laughs := func() string {
		text := "a: &a [x, x, x, x, x, x, x, x, x]\n"
		for c := 'b'; c <= 'i'; c++ {
			text += string(c) + ": &" + string(c) + " [" + strings.TrimSuffix(strings.Repeat("*"+string(c-1)+", ", 9), ", ") + "]\n"
		}
		return text
	}

	It("with aliases of aliases is refused for what it costs to read its text", func() {
		Expect(allocated(func() {
			_, err := specs.Parse("a", []byte(laughs()), kinds)
			Expect(err).To(MatchError(ContainSubstring("aliases are not allowed")))
		})).To(BeNumerically("<", 2<<20), "bytes")
	})

	It("with an alias to what it stands in is refused", func() {
		_, err := specs.Parse("a", []byte("a: &a [*a, {b: *a}]\n<<: *a\n"), kinds)
		Expect(err).To(MatchError(ContainSubstring("aliases are not allowed")))
	})

	DescribeTable("costs at most 250 bytes for each byte of it", func(unit string) {
		const size = 32 << 10
		src := []byte(strings.Repeat(unit, size/len(unit)))
		Expect(allocated(func() {
			_, err := specs.Parse("a", src, kinds)
			Expect(err).To(HaveOccurred())
		})).To(BeNumerically("<", 250*size), "bytes")
	},
		Entry("brackets", "["), Entry("dashes", "- "), Entry("entries", "- a\n"), Entry("keys without values", "a:\n"),
		Entry("keys", "a: b\n"), Entry("questions", "? "), Entry("comments", "- a #b\n"), Entry("tags", "- !a\n"),
		Entry("anchors", "- &a b\n"), Entry("documents", "---\n"), Entry("quotes", "- ''\n"), Entry("pairs", "- {a: b}\n"),
	)
})
