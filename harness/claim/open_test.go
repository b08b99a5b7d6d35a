package claim_test

import (
	"os"
	"path/filepath"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/fixtures/demo"
	"latchproof/harness/checks"
	"latchproof/harness/claim"
	"latchproof/specs"
)

// reload writes the files of a submission's spec into a folder of their own and
// loads them as anybody would.
func reload(s *claim.Submission) *specs.Spec {
	GinkgoHelper()
	b := newBox()
	for name, src := range s.SpecFiles {
		b.put(name, string(src))
	}
	back, err := specs.Load(filepath.Join(string(b), s.SpecFile), checks.All)
	Expect(err).NotTo(HaveOccurred())
	return back
}

var _ = Describe("a submission", func() {
	It("against a category is judged by the house's spec with the claim's program", func() {
		h := newHouse()
		b, file := newClaim()
		b.put("readme.txt", "hello")
		s, err := claim.Open(file, h, checks.All)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Claim.What).To(Equal("reaches the end of the walk"))
		Expect(s.Claim.By).To(Equal("Some Name"))
		Expect(s.Claim.Frames).To(BeEquivalentTo(34))
		Expect(s.Name).To(Equal("fast"))
		Expect(s.Category).To(Equal("walk"))
		Expect(s.Own).To(BeFalse())
		Expect(s.Files).To(Equal([]string{"fast.claim.yaml", "fast.prog"}))
		Expect(string(s.Contents["fast.claim.yaml"])).To(Equal(claimText))
		Expect(s.Ignored).To(Equal([]string{"readme.txt"}))
		Expect(s.Warnings()).To(Equal([]string{string(b) + "/readme.txt:1:1: not part of the submission"}))
		Expect(s.Program.Reads()).To(BeEquivalentTo(40))
		Expect(s.Spec.Program).To(BeIdenticalTo(s.Program))
		Expect(string(s.Spec.ProgramSource)).To(Equal(progText))
		Expect(s.Spec.Name).To(Equal("the walk"))

		// What is packed is the same spec, with the claim's program in its place.
		Expect(s.SpecFile).To(Equal("walk.spec.yaml"))
		Expect(s.SpecFiles).To(HaveLen(3))
		back := reload(s)
		Expect(back.Hash()).To(Equal(s.Spec.Hash()))
		Expect(back.Program.Hash()).To(Equal(s.Program.Hash()))
		Expect(back.Tail).To(Equal(s.Spec.Tail))
	})

	It("is found by its folder, when there is one claim in it", func() {
		b, _ := newClaim()
		s, err := claim.Open(string(b), newHouse(), checks.All)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Name).To(Equal("fast"))
		b.put("slow.claim.yaml", claimText)
		_, err = claim.Open(string(b), newHouse(), checks.All)
		Expect(err).To(MatchError(ContainSubstring("2 claim files (*.claim.yaml) in the folder; name one")))
		Expect(claim.Open(filepath.Join(string(b), "slow.claim.yaml"), newHouse(), checks.All)).Error().NotTo(HaveOccurred())
	})

	It("takes the same bytes to the end, whatever becomes of the folder", func() {
		b, file := newOwn()
		s, err := claim.Open(file, newHouse(), checks.All)
		Expect(err).NotTo(HaveOccurred())
		Expect(os.RemoveAll(string(b))).To(Succeed())
		Expect(string(s.Contents["fast.prog"])).To(Equal(progText))
		Expect(reload(s).Program.Hash()).To(Equal(s.Program.Hash()))
	})

	It("can bring its own spec, in a folder too", func() {
		_, file := newOwn()
		s, err := claim.Open(file, newHouse(), checks.All)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Own).To(BeTrue())
		Expect(s.Files).To(Equal([]string{"fast.claim.yaml", "fast.prog", "gate.png", "mine.spec.yaml"}))
		Expect(s.Category).To(MatchRegexp(`^own:the walk@[0-9a-f]{16}$`))
		Expect(claim.OwnCategory(reload(s), s.SpecFiles)).To(Equal(s.Category))

		b := newBox()
		b.put("in/fast.prog", progText)
		b.put("in/mine.spec.yaml", mineText)
		b.put("in/gate.png", gate(16, 16))
		deep := strings.NewReplacer("fast.prog", "in/fast.prog", "mine.spec", "in/mine.spec").Replace(ownText)
		d, err := claim.Open(b.put("fast.claim.yaml", deep), newHouse(), checks.All)
		Expect(err).NotTo(HaveOccurred())
		Expect(d.Files).To(Equal([]string{"fast.claim.yaml", "in/fast.prog", "in/gate.png", "in/mine.spec.yaml"}))
		Expect(d.Category).To(Equal(s.Category))
	})

	It("with its own spec stands in another category when a byte of the spec or of a picture differs, and not of the program", func() {
		category := func(change func(box)) string {
			b, file := newOwn()
			change(b)
			s, err := claim.Open(file, newHouse(), checks.All)
			Expect(err).NotTo(HaveOccurred())
			return s.Category
		}
		same := category(func(box) {})
		Expect(category(func(b box) { b.put("fast.prog", progText+"rest 1\n") })).To(Equal(same))
		Expect(category(func(b box) { b.put("mine.spec.yaml", mineText+"\n") })).NotTo(Equal(same))
		Expect(category(func(b box) { b.put("gate.png", gate(16, 15)) })).NotTo(Equal(same))
	})

	It("is looked at without a house as far as it goes", func() {
		_, file := newClaim()
		s, err := claim.Open(file, nil, checks.All)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Spec).To(BeNil())
		Expect(s.Contents).To(HaveKey("fast.prog"))
		Expect(s.Warnings()).To(Equal([]string{file + ":1:1: not held against a house"}))
		_, file = newOwn()
		s, err = claim.Open(file, nil, checks.All)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Program.Reads()).To(BeEquivalentTo(40))
	})

	It("of the demo's program is sound in a house with the demo's spec", func() {
		b := newBox()
		Expect(demo.Write(string(b))).To(Succeed())
		b.put("house.yaml", strings.Replace(houseText, "walk.spec.yaml", "first-lamp.spec.yaml", 1))
		h, err := claim.OpenHouse(filepath.Join(string(b), "house.yaml"), checks.All)
		Expect(err).NotTo(HaveOccurred())
		Expect(h.Warnings()).To(HaveLen(1))
		Expect(h.Warnings()[0]).To(ContainSubstring("first-lamp.spec.yaml:19:3: checkpoints: 9 of 12 stand at marks (first-lamp, jump, lindens, market-lamp, ring)"))
		src, err := os.ReadFile(filepath.Join(string(b), "first-lamp.prog"))
		Expect(err).NotTo(HaveOccurred())
		c, file := newClaim()
		c.put("fast.prog", string(src))
		s, err := claim.Open(file, h, checks.All)
		Expect(err).NotTo(HaveOccurred())
		own, err := specs.Load(filepath.Join(string(b), "first-lamp.spec.yaml"), checks.All)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Program.Hash()).To(Equal(own.Program.Hash()))
		Expect(s.Spec.Tail).To(Equal(own.Tail))
	})

	It("is accepted with a byte order mark, and with lines that end in two characters", func() {
		b, _ := newClaim()
		b.put("fast.prog", "\ufeff"+strings.ReplaceAll(progText, "\n", "\r\n"))
		s, err := claim.Open(b.put("fast.claim.yaml", "\ufeff"+strings.ReplaceAll(claimText, "\n", "\r\n")), newHouse(), checks.All)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Program.Reads()).To(BeEquivalentTo(40))
		Expect(s.Claim.By).To(Equal("Some Name"))
	})
})

var _ = Describe("a house", func() {
	It("says what is asked for, with defaults", func() {
		h := newHouse()
		Expect([]int{h.Repeats, h.Lockstep, h.Benches}).To(Equal([]int{5, 5, 1}))
		Expect(h.Ties).To(Equal(claim.TiesEarlier))
		Expect(h.MaxReads).To(BeEquivalentTo(claim.DefaultReads))
		Expect(h.Categories).To(HaveLen(1))
		Expect(h.Categories[0].Says).To(Equal("the walk"))
		h, err := claim.ParseHouse("house.yaml", []byte(houseText+"repeats: 7\nlockstep: 6\nbenches: 2\nties: earlier\nlimits: {reads: 39}\n"))
		Expect(err).NotTo(HaveOccurred())
		Expect([]int{h.Repeats, h.Lockstep, h.Benches, int(h.MaxReads)}).To(Equal([]int{7, 6, 2, 39}))
	})

	DescribeTable("that is wrong says where", func(file, from, to string, want ...string) {
		b := newBox()
		for name, text := range map[string]string{"house.yaml": houseText, "walk.spec.yaml": specText, "walk.prog": progText, "gate.png": gate(16, 16)} {
			if name == file {
				Expect(text).To(ContainSubstring(from))
				text = strings.Replace(text, from, to, 1)
			}
			b.put(name, text)
		}
		_, err := claim.OpenHouse(string(b), checks.All)
		Expect(b.lines(err)).To(Equal(want))
	},
		Entry("lockstep above repeats", "house.yaml", "own_specs: true", "repeats: 3\nlockstep: 4", `house.yaml:4:11: lockstep: 4 are more than the 3 repeats`),
		Entry("another rule of ties", "house.yaml", "own_specs: true", "ties: later", `house.yaml:3:7: ties: want earlier, have the text "later"`),
		Entry("no categories", "house.yaml", "categories:\n  walk: {spec: walk.spec.yaml}\n", "", `house.yaml:1:1: categories: missing`),
		Entry("categories alike", "house.yaml", "  walk: {", "  Walk: {spec: walk.spec.yaml}\n  walk: {", `house.yaml:6:3: categories.walk: differs from Walk in upper and lower case alone`),
		Entry("a spec outside", "house.yaml", "walk.spec.yaml", "../walk.spec.yaml", `house.yaml:5:16: categories.walk.spec: "../walk.spec.yaml" can leave the house's folder; name a file inside it without `+"`..`"),
		Entry("a spec that is not there", "house.yaml", "walk.spec.yaml", "wlk.spec.yaml", `house.yaml:5:3: categories.walk: wlk.spec.yaml: no such file or directory`),
		Entry("no timing", "walk.spec.yaml", "timing: {from: {at: 4}, to: {gone: gate}}\n", "", `walk.spec.yaml:1:1: timing: missing; a claim is a time from one event to another`),
		Entry("a timing that begins at a mark", "walk.spec.yaml", "at: 4}", "at: jump}", `walk.spec.yaml:8:9: timing.from.at: jump is a mark of the program, which the submitter sets; name a frame or a picture`),
		Entry("a timing that ends at a mark", "walk.spec.yaml", "gone: gate}", "at: jump+3}", `walk.spec.yaml:8:9: timing.to.at: jump+3 is a mark of the program, which the submitter sets; name a frame or a picture`),
		Entry("its own program is broken", "walk.prog", "rest 10", "rset 10", `walk.prog:2:1: unknown statement "rset"; did you mean "rest"?`),
		Entry("a key twice", "house.yaml", "own_specs: true", "own_specs: true\nown_specs: true", `house.yaml:4:1: own_specs: key given twice; first on line 3`),
	)

	It("whose files cannot be packed says so", func() {
		b := newBox()
		b.put("walk.prog", progText)
		b.put("größe.png", gate(16, 16))
		b.put("walk.spec.yaml", strings.ReplaceAll(specText, "gate}", "größe}"))
		b.put("house.yaml", houseText)
		_, err := claim.OpenHouse(string(b), checks.All)
		Expect(b.lines(err)).To(Equal([]string{"walk.spec.yaml:1:1: \"größe.png\" cannot be packed: it holds more than ASCII letters, digits and `_`, with single `-`, `.` and spaces between them"}))
	})
})
