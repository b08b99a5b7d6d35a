package reports

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/reports/plot"
)

// plots are the drawings of a page, whole.
func plots(page string) []string {
	return regexp.MustCompile(`(?s)<svg class="plot".*?</svg>`).FindAllString(page, -1)
}

// mixed is front at an opacity over back.
func mixed(front, back string, opacity float64) string {
	out := "#"
	for i := 1; i < 7; i += 2 {
		var f, b int
		_, err := fmt.Sscanf(front[i:i+2]+" "+back[i:i+2], "%x %x", &f, &b)
		Expect(err).NotTo(HaveOccurred())
		out += fmt.Sprintf("%02x", int(math.Round(float64(f)*opacity+float64(b)*(1-opacity))))
	}
	return out
}

var _ = Describe("the plots on the page", func() {
	It("are small, parse as XML and have no colour, style or script of their own", func() {
		n := 0
		for _, s := range []Session{sampleHeld(), sampleThree(), sampleSoak(), sampleBaseline()} {
			for _, svg := range plots(render(s)) {
				n++
				Expect(len(svg)).To(BeNumerically("<", 30_000))
				dec := xml.NewDecoder(strings.NewReader(svg))
				for {
					t, err := dec.Token()
					if errors.Is(err, io.EOF) {
						break
					}
					Expect(err).NotTo(HaveOccurred())
					if e, ok := t.(xml.StartElement); ok {
						Expect(e.Name.Local).To(BeElementOf("svg", "title", "desc", "path", "text"))
						for _, a := range e.Attr {
							Expect(a.Name.Local).To(BeElementOf("class", "viewBox", "role", "aria-labelledby", "id", "d", "x", "y", "text-anchor"))
						}
					}
				}
			}
		}
		Expect(n).To(Equal(3+5+3+5), "a curve and two for each repeat that is drawn; the check has two curves more")
	})

	It("have a rule for each of their classes, so that nothing is drawn in a colour that the page did not choose", func() {
		rules := map[string]string{}
		for _, r := range regexp.MustCompile(`([^{}]+)\{([^{}]*)\}`).FindAllStringSubmatch(styleText, -1) {
			for _, sel := range strings.Split(r[1], ",") {
				rules[strings.TrimSpace(sel)] += r[2] + ";"
			}
		}
		for _, c := range plot.Classes()[1:] {
			Expect(rules["."+c]).To(MatchRegexp(`fill:(none|var\(--[a-z0-9]+\))`), c)
			if strings.Contains(rules["."+c], "fill:none") {
				Expect(rules["."+c]).To(MatchRegexp(`stroke:var\(--[a-z0-9]+\)`), c)
			}
		}
		Expect(rules).To(HaveKey(".plot"))
		Expect(rules[".p-line-b"]).To(ContainSubstring("stroke-dasharray"), "told apart by more than colour")
		Expect(rules[".p-line-a"]).NotTo(ContainSubstring("stroke-dasharray"))
		Expect(rules[".p-edge-b"]).To(ContainSubstring("stroke-dasharray"))
	})

	for _, mode := range []string{"light", "dark"} {
		It("stand out 3 to 1 on the page and on both bands (WCAG 2.2, 1.4.11), "+mode, func() {
			set, dark := colours(render(Session{}))
			if mode == "dark" {
				set = dark
			}
			Expect(styleText).To(ContainSubstring("fill-opacity:.12"))
			a := mixed(set["f1"], set["paper"], 0.12)
			b := mixed(set["f2"], a, 0.12)
			for _, ground := range []string{set["paper"], a, b} {
				for _, line := range []string{"f1", "f2", "edge", "ink"} {
					if line == "edge" && ground != set["paper"] {
						continue // axes lie beside the bands
					}
					Expect(contrast(set[line], ground)).To(BeNumerically(">=", 3), line)
				}
			}
			for _, text := range []string{"soft", "ink"} {
				Expect(contrast(set[text], set["paper"])).To(BeNumerically(">=", 4.5), text)
			}
		})
	}

	It("hold hostile names as text", func() {
		bad := `</title></svg><script>alert(1)</script>` + "\u202e"
		page := render(Session{Specs: []Spec{{ReadTiming: []ReadTiming{{Repeat: bad, Bins: []Bin{{-1, 1, 3}}, Sentences: []string{bad}}}}}})
		expectQuiet(page)
		Expect(plots(page)).To(HaveLen(1))
		_, words := parse(page)
		Expect(words).To(ContainSubstring("Read spacing of </title></svg><script>alert(1)</script>[U+202E]"))
	})
})

var _ = Describe("how long they stay in lockstep", func() {
	of := func(s *Survival) string { return render(Session{Specs: []Spec{{Lockstep: Lockstep{Survival: s}}}}) }
	It("is a curve, a sentence and its numbers", func() {
		page := of(fallingSurvival())
		_, words := parse(page)
		Expect(words).To(ContainSubstring("How long they stay in lockstep"))
		Expect(words).To(ContainSubstring("At the end, 51.4 % of the repeats"))
		Expect(words).To(ContainSubstring("Of 7 repeats, 3 parted from the reference and 1 was cut short."))
		Expect(words).To(ContainSubstring("95\u00a0% limits"))
		Expect(words).To(ContainSubstring("(5 rows)"))
		Expect(page).To(ContainSubstring(`<td class="r">85.7` + "\u00a0" + `%</td><td class="r">13.2` + "\u00a0" + `%</td><td class="r">33.4` + "\u00a0" + `%</td><td class="r">97.9`))
	})
	It("is nothing when it was not given, and a sentence when there is one repeat only", func() {
		Expect(of(nil)).NotTo(ContainSubstring("stay in lockstep is not known:"))
		page := of(&Survival{})
		Expect(page).To(ContainSubstring("there is no repeat beside the first"))
		Expect(page).NotTo(ContainSubstring("How long they stay in lockstep</h3>"))
		Expect(plots(page)).To(BeEmpty())
	})
	It("lists at most a hundred steps, those that part first and always the last", func() {
		s := soakSurvival(4000)
		v := buildSteps("", s.Steps)
		Expect(v.Rows).To(HaveLen(manySteps))
		Expect(v.Left).To(Equal(len(s.Steps) - manySteps))
		Expect(v.Rows[manySteps-1].Frame).To(Equal(count(s.Steps[len(s.Steps)-1].Frame)))
		Expect(of(s)).To(ContainSubstring("400 more steps are in the JSON"))
		Expect(len(plots(of(s))[0])).To(BeNumerically("<", 30_000))
	})
	It("shows no limits where there are none", func() {
		page := of(&Survival{Repeats: 1, Steps: []SurvivalStep{{Frame: 5, AtRisk: 1, Survival: 1}}})
		Expect(plots(page)[0]).NotTo(ContainSubstring("p-band-a"))
		Expect(page).To(ContainSubstring(`<td class="r">–</td><td class="r">–</td>`))
		Expect(page).To(ContainSubstring("(1 row)"))
	})
})

var _ = Describe("when the console read its controller", func() {
	It("draws the first repeat and those with anomalies, and lists all", func() {
		page := render(sampleThree())
		Expect(strings.Count(page, "<title id=\"s1-r")).To(Equal(4), "two plots of two repeats")
		_, words := parse(page)
		Expect(words).To(ContainSubstring("3 reads had 9 clock pulses instead of 8"))
		table := page[strings.Index(page, `<table class="timed-table">`):]
		table = table[:strings.Index(table, "</table>")]
		Expect(strings.Count(table, "<tr>")).To(Equal(1 + 8))
		Expect(strings.Count(table, "anomaly: ")).To(Equal(1))
		Expect(table).To(ContainSubstring("Service"))
	})
	It("says so when there is nothing to draw, no anomaly and no service latency", func() {
		page := render(Session{Specs: []Spec{{ReadTiming: []ReadTiming{{Repeat: "a"}}}}})
		Expect(page).To(ContainSubstring("Nothing is odd about the board"))
		Expect(page).To(ContainSubstring("There is no spacing of reads to show."))
		Expect(page).To(ContainSubstring("Too few reads to say how steady"))
		Expect(page).NotTo(ContainSubstring("Service"))
		Expect(render(Session{Specs: []Spec{{}}})).NotTo(ContainSubstring("When the console read"))
	})
	It("stays bounded", func() {
		var all []ReadTiming
		odd := sampleReadTiming(sampleRepeats(4))[3]
		for i := range 3000 {
			r := odd
			r.Repeat = fmt.Sprint("r", i)
			all = append(all, r)
		}
		page := render(Session{Specs: []Spec{{ReadTiming: all}}})
		Expect(plots(page)).To(HaveLen(2 * maxTimed))
		Expect(page).To(ContainSubstring(fmt.Sprintf("%d more repeats have anomalies of the board and no plot", 3000-maxTimed)))
		Expect(page).To(ContainSubstring("2800 more repeats are in the JSON"))
		Expect(len(page)).To(BeNumerically("<", 400_000))
	})
})

var _ = Describe("what is asked of a session", func() {
	DescribeTable("is answered first, in word, shape and colour",
		func(set func(*Session), word, class, shape string) {
			s := Session{Specs: []Spec{{Verdict: "held"}}}
			set(&s)
			page := render(s)
			expectQuiet(page)
			Expect(page).To(ContainSubstring("<title>" + word + ": "))
			body := page[strings.Index(page, "<main>"):]
			first := body[:strings.Index(body, `class="answer`)]
			Expect(first).To(MatchRegexp(`<div class="overall (soak )?` + class + `">`))
			Expect(first).To(ContainSubstring(`<use href="#` + shape + `"/>`))
		},
		Entry("proven", func(s *Session) { s.Soak = &Soak{Verdict: "proven"} }, "Proven", "yes", "s-yes"),
		Entry("refuted", func(s *Session) { s.Soak = &Soak{Verdict: "refuted"} }, "Refuted", "no", "s-no"),
		Entry("not told", func(s *Session) { s.Soak = &Soak{Verdict: "cannot tell"} }, "Cannot tell", "unknown", "s-unknown"),
		Entry("no worse", func(s *Session) { s.Baseline = &Baseline{Verdict: "no worse"} }, "No worse", "yes", "s-yes"),
		Entry("worse", func(s *Session) { s.Baseline = &Baseline{Verdict: "worse"} }, "Worse", "no", "s-no"),
		Entry("too few", func(s *Session) { s.Baseline = &Baseline{Verdict: "cannot tell: 9 more repeats needed"} }, "Cannot tell", "unknown", "s-unknown"),
		Entry("a word that is not known", func(s *Session) { s.Baseline = &Baseline{Verdict: "better"} }, "better", "unknown", "s-unknown"),
	)
	It("says how far a soak is, and nothing of it once it is told", func() {
		Expect(render(sampleSoak())).To(ContainSubstring("412 further clean repeats would prove it."))
		Expect(buildSoak(&Soak{Verdict: "cannot tell", Clean: 100, CleanNeeded: 300}).X).To(Equal(25.0))
		Expect(buildSoak(&Soak{Verdict: "cannot tell", CleanNeeded: -1})).To(And(HaveField("X", -1.0), HaveField("Far", ContainSubstring("More than a million"))))
		Expect(buildSoak(&Soak{Verdict: "proven", CleanNeeded: 5}).Far).To(BeEmpty())
	})
	It("says what a baseline check would need, opens what is not surely good and folds the rest", func() {
		page := render(sampleBaseline())
		Expect(strings.Count(page, "21 more repeats needed")).To(Equal(2))
		Expect(page).To(MatchRegexp(`<details class="base-spec no" id="b1" open>`))
		Expect(page).To(MatchRegexp(`<details class="base-spec unknown" id="b2" open>`))
		Expect(page).To(MatchRegexp(`<details class="base-spec yes" id="b3">`))
		Expect(strings.Count(plots(page)[0], `class="p-line-`)).To(Equal(2))
		Expect(page).To(ContainSubstring("parts from the baseline’s at frame <b>214</b>"))
	})
	It("is absent from the JSON when it was not asked, and its lists are never null", func() {
		plain := written(Session{Specs: []Spec{{}}})
		for _, key := range []string{"soak", "baseline", "survival", "read_timing"} {
			Expect(plain).NotTo(ContainSubstring(`"` + key + `"`))
		}
		text := written(Session{Baseline: &Baseline{Specs: []BaselineSpec{{}, {Survival: [2]*Survival{{}, {}}}}}, Soak: &Soak{}, Specs: []Spec{{ReadTiming: []ReadTiming{{}}, Lockstep: Lockstep{Survival: &Survival{}}}}})
		Expect(text).NotTo(ContainSubstring("null"))
		one := Session{Specs: []Spec{}, Baseline: &Baseline{Differs: []string{}, Specs: []BaselineSpec{{Rows: []BaselineRow{}, Survival: [2]*Survival{nil, {Steps: []SurvivalStep{}}}}}}}
		back, err := ReadJSON(strings.NewReader(written(one)))
		Expect(err).NotTo(HaveOccurred())
		Expect(back.Baseline).To(Equal(one.Baseline))
	})
})

var _ = Describe("a check against a baseline alone", func() {
	It("does not say that nothing was played", func() {
		Expect(render(Session{Baseline: &Baseline{Verdict: "no worse", Sentence: "No worse."}})).NotTo(ContainSubstring("Nothing was played"))
		Expect(render(Session{})).To(ContainSubstring("Nothing was played"))
	})
})
