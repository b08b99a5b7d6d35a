package specs_test

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/specs/program"
)

var _ = Describe("Moment", func() {
	DescribeTable("parses and formats", func(text string, want specs.Moment) {
		m, err := specs.ParseMoment(text)
		Expect(err).NotTo(HaveOccurred())
		Expect(m).To(Equal(want))
		Expect(m.String()).To(Equal(text))
	},
		Entry(nil, "0", specs.Moment{}),
		Entry(nil, "1728000", specs.Moment{Offset: 1_728_000}),
		Entry(nil, "jump", specs.Moment{Mark: "jump"}),
		Entry(nil, "jump+14", specs.Moment{Mark: "jump", Offset: 14}),
		Entry(nil, "jump-2", specs.Moment{Mark: "jump", Offset: -2}),
		Entry(nil, "glow-worm_2-7", specs.Moment{Mark: "glow-worm_2", Offset: -7}),
		Entry(nil, "größe+864000", specs.Moment{Mark: "größe", Offset: 864_000}),
	)

	It("formats other spellings of the same moment in one way", func() {
		for text, want := range map[string]string{"jump+0": "jump", "jump-0": "jump", "jump+007": "jump+7"} {
			m, err := specs.ParseMoment(text)
			Expect(err).NotTo(HaveOccurred())
			Expect(m.String()).To(Equal(want))
		}
	})

	DescribeTable("refuses", func(text string) {
		_, err := specs.ParseMoment(text)
		Expect(err).To(HaveOccurred())
	},
		Entry(nil, ""), Entry(nil, "-1"), Entry(nil, "1728001"), Entry(nil, "007"), Entry(nil, "+5"), Entry(nil, "1e3"),
		Entry(nil, "jump +1"), Entry(nil, "jump+"), Entry(nil, "jump--1"), Entry(nil, "jump+864001"), Entry(nil, "jump+1+1"),
		Entry(nil, "jump\n"), Entry(nil, "9lives"), Entry(nil, "99999999999999999999"),
		Entry("65 letters", "aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"),
	)

	marks := []program.Mark{{Name: "jump", Read: 100, Line: 3}, {Name: "land", Read: 140, Line: 9}}
	// A run with one lag frame after each tenth read, logged up to read 150.
	log := func(r program.Read) (console.Frame, bool) {
		return console.Frame(r + r/10), r >= 0 && r <= 150
	}

	It("finds the frame of a read in a run", func() {
		Expect(specs.Moment{Offset: 500}.Frame(log, marks)).To(BeEquivalentTo(500))
		Expect(specs.Moment{Mark: "jump"}.Frame(log, marks)).To(BeEquivalentTo(110))
		Expect(specs.Moment{Mark: "jump", Offset: 14}.Frame(log, marks)).To(BeEquivalentTo(125))
		Expect(specs.Moment{Mark: "jump", Offset: -1}.Frame(log, marks)).To(BeEquivalentTo(108))
	})

	It("says when a run has no such read, or the program no such mark", func() {
		_, err := specs.Moment{Mark: "land", Offset: 11}.Frame(log, marks)
		Expect(err).To(MatchError(specs.ErrNoRead))
		Expect(err).To(MatchError("read not in the log: read 151 (land+11)"))
		_, err = specs.Moment{Mark: "fly"}.Frame(log, marks)
		Expect(err).To(MatchError(specs.ErrNoMark))
	})

	It("places a range, and says when it is empty in this run", func() {
		w := specs.When{From: specs.Moment{Mark: "jump"}, To: specs.Moment{Offset: 112}, Range: true}
		Expect(w.String()).To(Equal("[jump, 112]"))
		from, to, err := w.Frames(log, marks)
		Expect(err).NotTo(HaveOccurred())
		Expect([]console.Frame{from, to}).To(Equal([]console.Frame{110, 112}))
		w.To.Offset = 109
		_, _, err = w.Frames(log, marks)
		Expect(err).To(MatchError(specs.ErrBackwards))
		_, _, err = specs.When{To: specs.Moment{Mark: "land", Offset: 50}, Range: true}.Frames(log, marks)
		Expect(err).To(MatchError(specs.ErrNoRead))
	})
})
