package look_test

import (
	"context"
	"image"
	"slices"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/look"
	"latchproof/specs/console"
	"latchproof/vision"
	"latchproof/vision/screen"
)

var _ = Describe("finding", func() {
	thing := func() *vision.Template {
		t, err := vision.NewTemplate(madeThing(), nil)
		Expect(err).NotTo(HaveOccurred())
		return t
	}

	It("finds every showing on every seen frame, at its place, and follows what moves", func(ctx context.Context) {
		found, err := look.Find(ctx, makeRun(false), look.Query{Template: thing(), Score: 0.9, To: 1000}, nil)
		Expect(err).NotTo(HaveOccurred())
		Expect(found.Query.To).To(Equal(console.Frame(59)))
		Expect(found.Seen).To(Equal(madeFrames - len(madeUnseen)))
		Expect(found.Unseen).To(Equal([]look.Span{{From: 25, To: 26}, {From: 50, To: 50}}))
		Expect(found.Stretches).To(HaveLen(2))
		walks, stands := found.Stretches[0], found.Stretches[1]
		Expect([]console.Frame{walks.From(), walks.To(), stands.From(), stands.To()}).To(Equal([]console.Frame{5, 40, 20, 59}))
		Expect([]int{walks.Unseen, stands.Unseen}).To(Equal([]int{2, 3}))
		Expect([]bool{walks.Moves(), stands.Moves()}).To(Equal([]bool{true, false}))
		Expect(walks.Places()).To(Equal(image.Rect(15, 30, 50, 30)))
		for _, s := range found.Stretches {
			for _, p := range s.Sightings {
				Expect(madeAt(int(p.Frame))).To(ContainElement(p.At), "frame %d", p.Frame)
				Expect(p.Score).To(Equal(1.0))
			}
		}
		for i, s := range found.Shows {
			switch {
			case slices.Contains(madeUnseen, console.Frame(i)):
				Expect(s).To(Equal(look.NoPicture))
			case len(madeAt(i)) == 0:
				Expect(s).To(Equal(look.Absent))
			default:
				Expect(s).To(Equal(look.Present))
			}
		}
	})

	It("looks only where and when it is told", func(ctx context.Context) {
		in := image.Rect(68, 48, 73, 53)
		found, err := look.Find(ctx, makeRun(false), look.Query{Template: thing(), In: in, Score: 0.9, From: 10, To: 49}, nil)
		Expect(err).NotTo(HaveOccurred())
		Expect(found.Stretches).To(HaveLen(1))
		Expect([]console.Frame{found.Stretches[0].From(), found.Stretches[0].To()}).To(Equal([]console.Frame{20, 49}))
		Expect(found.Shows).To(HaveLen(40))
	})

	It("tells the nearest place when it shows nowhere", func(ctx context.Context) {
		found, err := look.Find(ctx, makeRun(false), look.Query{Template: thing(), Score: 0.9, From: 0, To: 4}, nil)
		Expect(err).NotTo(HaveOccurred())
		Expect(found.Stretches).To(BeEmpty())
		Expect(found.Best.Score).To(And(BeNumerically(">", 0), BeNumerically("<", 0.9)))
	})

	It("refuses a template larger than the raster, and places that are none", func(ctx context.Context) {
		big := screen.New(madeW+1, 4)
		big.Y[0] = 200
		t, err := vision.NewTemplate(big, nil)
		Expect(err).NotTo(HaveOccurred())
		_, err = look.Find(ctx, makeRun(false), look.Query{Template: t, Score: 0.9, To: 59}, nil)
		Expect(err).To(MatchError(vision.ErrTooLarge))
		_, err = look.Find(ctx, makeRun(false), look.Query{Template: thing(), In: image.Rect(500, 500, 502, 502), Score: 0.9, To: 59}, nil)
		Expect(err).To(MatchError(vision.ErrOutside))
	})

	It("draws a timeline with gaps where nothing was seen", func() {
		f := &look.Found{Query: look.Query{From: 100}}
		for _, c := range "aappp?pa??aaaaaaaaaaaaaaaaaaaaaaaaaaaaaa" {
			f.Shows = append(f.Shows, map[rune]look.Show{'a': look.Absent, 'p': look.Present, '?': look.NoPicture}[c])
		}
		line, numbers, per := f.Timeline(40)
		Expect(per).To(Equal(1))
		Expect(line).To(Equal("..###?#.??.............................."))
		Expect(numbers).To(Equal("100       110       120       130"))
		line, numbers, per = f.Timeline(20)
		Expect(per).To(Equal(2))
		Expect(line).To(Equal(".##+?..............."))
		Expect(numbers).To(Equal("100       120"))
		line, _, per = (&look.Found{}).Timeline(40)
		Expect([]any{line, per}).To(Equal([]any{"", 0}))
	})
})
