package reports

import (
	"errors"
	"fmt"
	"math"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func pictures(page string) (n int) {
	GinkgoHelper()
	es, _ := parse(page)
	for _, e := range es {
		if e.name == "img" {
			n++
		}
	}
	return n
}

// headings gives the levels of the headings in their order.
func headings(page string) (out []int) {
	GinkgoHelper()
	es, _ := parse(page)
	for _, e := range es {
		if len(e.name) == 2 && e.name[0] == 'h' && e.name[1] >= '1' && e.name[1] <= '6' {
			out = append(out, int(e.name[1]-'0'))
		}
	}
	return out
}

var samples = map[string]func() Session{
	"soak": sampleSoak, "flash": sampleFlash, "baseline": sampleBaseline, "held": sampleHeld, "picture": samplePicture, "three": sampleThree,
	"nothing": func() Session { return Session{} }, "a spec with nothing": func() Session { return Session{Specs: []Spec{{}}} },
	"two specs": func() Session { return Session{Specs: append(sampleHeld().Specs, samplePicture().Specs...)} },
}

var _ = Describe("the page", func() {
	for name, sample := range samples {
		It("is quiet HTML with headings in order, named tables and described pictures: "+name, func() {
			page := render(sample())
			expectQuiet(page)
			hs := headings(page)
			Expect(hs[0]).To(Equal(1))
			for i := 1; i < len(hs); i++ {
				Expect(hs[i]).To(BeNumerically(">", 1))
				Expect(hs[i]).To(BeNumerically("<=", hs[i-1]+1))
			}
			es, words := parse(page)
			ids := map[string]bool{}
			for _, e := range es {
				for _, a := range e.attrs {
					if a.Key == "id" {
						Expect(ids).NotTo(HaveKey(a.Val))
						ids[a.Val] = true
					}
				}
			}
			for _, e := range es {
				attrs := map[string]string{}
				for _, a := range e.attrs {
					attrs[a.Key] = a.Val
				}
				switch e.name {
				case "html":
					Expect(attrs).To(HaveKeyWithValue("lang", "en"))
				case "img":
					Expect(attrs["alt"]).NotTo(BeEmpty())
				case "th":
					Expect(attrs["scope"]).To(Or(Equal("col"), Equal("row")))
				case "a", "use":
					Expect(ids).To(HaveKey(strings.TrimPrefix(attrs["href"], "#")))
				}
			}
			Expect(words).To(ContainSubstring("WCAG 2.2, success criterion 2.3.1"))
			Expect(words).To(ContainSubstring("Never open mains-powered equipment or a picture-tube display"))
		})
	}

	It("keeps the raster's pixels square and whole", func() {
		Expect(styleText).To(ContainSubstring("image-rendering:pixelated"))
		Expect(scale(512, 256, 240)).To(Equal(2))
		Expect(scale(320, 256, 240)).To(Equal(1))
		Expect(scale(128, 640, 480)).To(Equal(1))
		Expect(scale(128, 16, 16)).To(Equal(8))
	})

	DescribeTable("answers first, in words, a shape and a colour",
		func(verdict, word, class, shape string) {
			for _, n := range []int{1, 2} {
				s := Session{Title: "T"}
				for range n {
					s.Specs = append(s.Specs, Spec{Name: "n", Verdict: verdict, Sentence: "The answer is here."})
				}
				page := render(s)
				Expect(page).To(ContainSubstring("<title>" + word + ": T</title>"))
				Expect(page).To(ContainSubstring(`<div class="answer ` + class + `">`))
				big := page[strings.Index(page, `<p class="big">`):]
				big = big[:strings.Index(big, "</p>")]
				Expect(big).To(ContainSubstring(`<use href="#` + shape + `"/>`))
				Expect(big).To(ContainSubstring(word))
				body := page[strings.Index(page, "<main>"):]
				Expect(strings.Index(body, "The answer is here.")).To(BeNumerically("<", strings.Index(body, "<h3")))
			}
		},
		Entry("held", "held", "Held", "yes", "s-yes"),
		Entry("not held", "not held", "Not held", "no", "s-no"),
		Entry("cannot tell", "cannot tell", "Cannot tell", "unknown", "s-unknown"),
	)

	It("shows no verdict, and one that it does not know, as one that cannot be told", func() {
		for _, v := range []string{"", "Held", "held ", "passed"} {
			page := render(Session{Specs: []Spec{{Verdict: v}}})
			Expect(page).To(ContainSubstring("<title>Cannot tell: "))
			Expect(page).To(ContainSubstring(`<div class="answer unknown">`))
		}
	})

	DescribeTable("joins the verdicts of several specs",
		func(want string, verdicts ...string) {
			var specs []Spec
			for _, v := range verdicts {
				specs = append(specs, Spec{Verdict: v})
			}
			Expect(overall(specs)).To(Equal(want))
		},
		Entry(nil, "cannot tell"),
		Entry(nil, "held", "held", "held"),
		Entry(nil, "cannot tell", "held", "cannot tell"),
		Entry(nil, "cannot tell", "cannot tell", "held"),
		Entry(nil, "cannot tell", "held", ""),
		Entry(nil, "not held", "held", "cannot tell", "not held", "held"),
	)

	It("shows where repeats part, with both pictures, their outline and close-ups", func() {
		s := samplePicture()
		s.Specs[0].Divergences[0].Region = &[4]int{100, 120, 32, 24}
		page := render(s)
		_, words := parse(page)
		Expect(words).To(ContainSubstring("First divergence: frame 525"))
		Expect(words).To(ContainSubstring("the same reads, another picture"))
		Expect(words).To(ContainSubstring("hold right+b for 130"))
		Expect(words).To(ContainSubstring("32 × 24 pixels at (100, 120)"))
		Expect(strings.Count(page, `d="M97 117h38v30h-38z"`)).To(Equal(4), "halo and mark on both pictures")
		Expect(words).To(ContainSubstring("Demonstration:"))
		Expect(strings.Count(page, "alt=\"Close-up: ")).To(Equal(2))
		Expect(strings.Index(page, "First divergence")).To(BeNumerically("<", strings.Index(page, "Families of repeats</h3>")))
	})

	It("says when the first frame may be an earlier one", func() {
		part := func(since, frame int64) string {
			return render(Session{Specs: []Spec{{Divergences: []Divergence{{Since: since, Frame: frame, Read: -1}}}}})
		}
		Expect(part(7, 7)).NotTo(ContainSubstring("may have begun"))
		Expect(part(6, 7)).To(ContainSubstring("Frame 6 is not known to be equal"))
		Expect(part(3, 7)).To(ContainSubstring("Frames 3 to 6 are not known to be equal"))
		Expect(part(3, 7)).NotTo(ContainSubstring("<dt>Read</dt>"))
	})

	It("marks rows of reads that differ by shape and word", func() {
		page := render(sampleThree())
		Expect(strings.Count(page, `<tr class="differs">`)).To(Equal(7))
		Expect(strings.Count(page, "<b>≠ differs</b>")).To(Equal(7))
		Expect(page).To(ContainSubstring("7 of 13 rows differ"))
		Expect(page).To(ContainSubstring("all 13 rows are the same"))
	})

	It("opens what did not pass and the first pass, and folds the other passes", func() {
		page := render(sampleThree())
		toes := page[strings.Index(page, `id="s1-c4" aria`):]
		toes = toes[:strings.Index(toes, "</article>")]
		Expect(strings.Count(toes, `" open>`)).To(Equal(3))
		Expect(strings.Index(toes, `<details class="proof no" open>`)).To(BeNumerically("<", strings.Index(toes, `<details class="proof yes" open>`)))
		Expect(toes).To(ContainSubstring("5 more, without pictures"))
		Expect(toes).To(ContainSubstring("No picture that is surely of this frame."))
		Expect(toes).To(ContainSubstring("needs at least 0.850"))
	})

	It("says what nothing seen means", func() {
		page := render(Session{Specs: []Spec{{
			Name: "dark", Verdict: "cannot tell", Sentence: "Nothing can be said.", Lockstep: Lockstep{Required: 2},
			Repeats:     []Repeat{{Name: "a", Verdict: "unseen", Family: -1, State: "partial"}},
			Checkpoints: []Checkpoint{{Name: "c", Verdict: "unseen", Results: []Result{{Repeat: "a", Verdict: "unseen", Frame: 5}}}},
		}}})
		expectQuiet(page)
		_, words := parse(page)
		Expect(words).To(ContainSubstring("No repeats could be compared"))
		Expect(words).To(ContainSubstring("not compared"))
		Expect(pictures(page)).To(BeZero())
	})

	It("leaves out what is no picture", func() {
		s := sampleThree()
		bad := &Picture{Data: []byte("<svg onload=alert(1)>"), Type: "image/svg+xml", Alt: "x"}
		s.Specs[0].Divergences = []Divergence{{Frame: 3, PictureA: bad, PictureB: bad}}
		s.Specs[0].Checkpoints[3].Results[3].Seen = bad
		s.Specs[0].Checkpoints[3].Templates = []Picture{*bad}
		page := render(s)
		expectQuiet(page)
		Expect(page).To(ContainSubstring("This picture could not be read."))
	})

	It("gives numbers that are none as a dash", func() {
		page := render(Session{Specs: []Spec{{Repeats: []Repeat{{PPM: math.NaN(), JitterUS: math.Inf(1)}}}}})
		Expect(strings.Count(page, `<td class="r">–</td>`)).To(Equal(2))
	})

	It("stays bounded with a hundred repeats, and says what it left out", func() {
		const repeats, checks = 100, 40
		s := Session{Specs: []Spec{{Name: "many"}}}
		sp := &s.Specs[0]
		pic := &Picture{Data: dot, Alt: "a"}
		for i := range repeats {
			r := Repeat{Name: fmt.Sprint("r", i), Frames: 36000, Family: i % 3}
			for f := int64(i); f < 36000; f += 3 {
				r.UnseenFrames = append(r.UnseenFrames, f)
			}
			sp.Repeats = append(sp.Repeats, r)
		}
		for range checks {
			c := Checkpoint{Name: "c", Kind: "shows", Verdict: "fail"}
			for i := range repeats {
				verdict := "pass"
				if i%3 == 1 {
					verdict = "fail"
				}
				c.Results = append(c.Results, Result{Repeat: fmt.Sprint("r", i), Verdict: verdict, Frame: 900, Seen: pic})
			}
			sp.Checkpoints = append(sp.Checkpoints, c)
		}
		for range 99 {
			sp.Divergences = append(sp.Divergences, Divergence{Frame: 4, Read: -1, PictureA: pic, PictureB: pic})
		}
		page := render(s)
		expectQuiet(page)
		Expect(pictures(page)).To(BeNumerically("<=", maxPictures))
		Expect(page).To(ContainSubstring(fmt.Sprintf("%d pictures were left out", 3*maxParted+checks*(maxTroubled+1)-maxPictures)))
		Expect(page).To(ContainSubstring(fmt.Sprintf("%d more divergences, without pictures", 99-maxParted)))
		Expect(page).To(ContainSubstring("40 more repeats have no row"))
		Expect(len(page)).To(BeNumerically("<", 4<<20))
	})

	It("gives the error of the writer", func() {
		broken := errors.New("disk full")
		Expect(WriteHTML(brokenWriter{broken}, Session{})).To(MatchError(broken))
		Expect(WriteJSON(brokenWriter{broken}, Session{})).To(MatchError(broken))
	})
})

type brokenWriter struct{ err error }

func (w brokenWriter) Write([]byte) (int, error) { return 0, w.err }

var _ = Describe("how sure", func() {
	DescribeTable("is said in plain words",
		func(l Lockstep, want string, interval bool) {
			s := howSure(l)
			Expect(s.Words).To(ContainSubstring(want))
			Expect(s.Interval).To(Equal(interval))
		},
		Entry("nothing", Lockstep{}, "No repeats could be compared", false),
		Entry("one", Lockstep{InStep: 1, Repeats: 1, High: 1}, "Only one repeat", false),
		Entry("all", Lockstep{InStep: 5, Repeats: 5, Low: 0.3976, High: 1}, "all 4 others stayed in lockstep with it. From so many, we can say with 95\u00a0% confidence that a further repeat on this bench stays in lockstep with it in at least 39.7\u00a0% of cases. More clean repeats raise the lower limit.", true),
		Entry("some", Lockstep{InStep: 4, Repeats: 5, Low: 0.1941, High: 0.9937}, "3 of the 4 others stayed in lockstep with it. From so many, we can say with 95\u00a0% confidence that a further repeat on this bench stays in lockstep with it in at least 19.4\u00a0% and at most 99.4\u00a0% of cases.", true),
		Entry("none", Lockstep{InStep: 1, Repeats: 5, Low: 0, High: 0.6024}, "none of the others stayed in lockstep with it. From so many, we can say with 95\u00a0% confidence that a further repeat on this bench stays in lockstep with it in at most 60.3\u00a0% of cases.", true),
	)
})

var _ = Describe("the numbers beside the answer", func() {
	It("say how much could not be compared", func() {
		Expect(facts(Spec{Lockstep: Lockstep{Frames: 1000, Unseen: 1}})).To(Equal([]fact{{"Frames", "1,000", "1 comparison was not possible, for lack of a picture"}}))
		Expect(facts(Spec{Lockstep: Lockstep{Frames: 1000, Unseen: 221}})[0].Note).To(HavePrefix("221 comparisons were not possible"))
		Expect(facts(Spec{Lockstep: Lockstep{Frames: 1000}})[0].Note).To(BeEmpty())
	})
	It("count the checkpoints that passed, and no others", func() {
		got := facts(Spec{Checkpoints: []Checkpoint{{Verdict: "pass"}, {Verdict: "fail"}, {Verdict: "unseen"}, {}}})
		Expect(got).To(Equal([]fact{{Term: "Checkpoints passed", Value: "1 of 4"}}))
	})
})
