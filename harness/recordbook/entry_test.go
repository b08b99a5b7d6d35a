package recordbook_test

import (
	"os"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"golang.org/x/mod/sumdb/tlog"

	"latchproof/harness/recordbook"
)

var _ = Describe("the best of a category", func() {
	It("has the fewest frames; of equal ones the earlier keeps the place", func() {
		b, _ := book(house, houseKey,
			certificate(houseKey, 0, "lamp", "Ada", 740),
			certificate(houseKey, 1, "bell", "Bo", 1234),
			certificate(houseKey, 2, "lamp", "Cy", 734),
			certificate(houseKey, 3, "lamp", "Di", 734),
			certificate(houseKey, 4, "lamp", "Ed", 735),
			certificate(houseKey, 5, "lamp", "Fi", 734),
		)
		places := recordbook.Places(b.Entries())
		Expect(places).To(HaveLen(2))
		Expect(places[0].Category).To(Equal("bell"))
		Expect(places[1].Best.Index).To(BeEquivalentTo(2))
		Expect(places[1].Ties).To(HaveExactElements(HaveField("Index", int64(3)), HaveField("Index", int64(5))))
		// What each entry was held against when it came.
		for size, want := range []int64{-1, 0, 0, 2, 2, 2, 2} {
			best := b.Best("lamp", int64(size))
			if want < 0 {
				Expect(best).To(BeNil())
				continue
			}
			Expect(best.Index).To(Equal(want), "of %d", size)
		}
		Expect(b.Best("lamp", 99).Index).To(BeEquivalentTo(2))
		Expect(b.Best("lamp", -1)).To(BeNil())
		Expect(b.Best("none", 6)).To(BeNil())
		before := b.Best("lamp", 6).Before()
		Expect(before.Index).To(BeEquivalentTo(2))
		Expect(before.Frames).To(BeEquivalentTo(734))
		Expect(before.By).To(Equal("Cy"))
		Expect(before.Leaf).To(Equal(hexes([]tlog.Hash{leafOf(certificate(houseKey, 2, "lamp", "Cy", 734))})[0]))
	})
	It("goes to the first of a run that gets better and ties on", func() {
		list := recordbook.Places([]recordbook.Entry{entry(0, 5), entry(1, 5), entry(2, 4), entry(3, 5), entry(4, 4)})
		Expect(list).To(HaveLen(1))
		Expect(list[0].Best.Index).To(BeEquivalentTo(2))
		Expect(list[0].Ties).To(HaveExactElements(HaveField("Index", int64(4))))
	})
})

func entry(index, frames int64) (e recordbook.Entry) {
	e.Index, e.States.Measured.Frames = index, frames
	return e
}

var _ = Describe("a new book", func() {
	It("is empty, and of its house", func() {
		made, _ := book(house, houseKey)
		dir := made.Dir()
		b := open(dir)
		Expect(b.Len()).To(BeZero())
		Expect(b.House()).To(Equal(house))
		Expect(b.Key()).To(Equal(housePub))
		Expect(b.Dir()).To(Equal(dir))
		Expect(b.Notes()).To(BeEmpty())
		info, err := os.Stat(dir)
		Expect(err).NotTo(HaveOccurred())
		Expect(info.Mode().Perm()).To(BeEquivalentTo(0o755))
		Expect(b.Head().Root).To(Equal(mth(nil)))
	})
	It("does not take the place of anything, and leaves nothing when it cannot be made", func() {
		parent := GinkgoT().TempDir()
		dir := filepath.Join(parent, "book")
		Expect(recordbook.Create(dir, "", houseKey)).Error().To(HaveOccurred())
		Expect(recordbook.Create(dir, house, nil)).Error().To(HaveOccurred())
		Expect(os.ReadDir(parent)).To(BeEmpty())
		Expect(os.WriteFile(dir, nil, 0o666)).To(Succeed())
		Expect(recordbook.Create(dir, house, houseKey)).Error().To(HaveOccurred())
		Expect(os.Remove(dir)).To(Succeed())
		Expect(os.Mkdir(dir, 0o777)).To(Succeed())
		b, err := recordbook.Create(dir, house, houseKey)
		Expect(err).NotTo(HaveOccurred())
		Expect(b.Close()).To(Succeed())
		Expect(recordbook.Create(dir, house, houseKey)).Error().To(MatchError(recordbook.ErrExists))
		Expect(os.ReadDir(parent)).To(HaveLen(1))
	})
})
