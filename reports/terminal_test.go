package reports

import (
	"bytes"
	"regexp"
	"strings"
	"unicode"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func told(s Session, o TextOptions) string {
	GinkgoHelper()
	var b bytes.Buffer
	Expect(WriteText(&b, s, o)).To(Succeed())
	return b.String()
}

var painted = regexp.MustCompile("\x1b\\[(?:1;3[356]|0)m")

var _ = Describe("the summary for a terminal", func() {
	It("has the verdict and the sentence first, then the checkpoints in columns", func() {
		out := told(sampleThree(), TextOptions{})
		Expect(out).To(HavePrefix("\nhasty: not held ✗\n  Not frame-exact: 4 of 7 "))
		Expect(out).To(ContainSubstring("\n  family 2, from frame 214: hasty-4\n"))
		Expect(out).To(ContainSubstring("\n  first divergence: frame 214, read 202, kind input, program line 23\n"))
		Expect(out).To(ContainSubstring("" +
			"\n  checkpoint                at            pass  fail  unseen" +
			"\n  the banner is up          40               8     0       0\n"))
		Expect(out).To(ContainSubstring("\n  toes cross the corner     jump+5           6     1       1  hasty-4: best score 0.412 at (88, 169), at least 0.85 asked\n"))
		Expect(out).To(ContainSubstring("\n  note: hasty-8: no answer"))
		Expect(out).NotTo(ContainSubstring("\x1b"))
	})

	It("counts several specs, and has a table of them", func() {
		out := told(samples["two specs"](), TextOptions{})
		Expect(out).To(HavePrefix("\n✗ Not held. 2 specs: 1 held, 1 did not hold.\n\n" +
			"  spec   verdict     in lockstep  checkpoints passed  first divergence\n" +
			"  hasty  ✓ Held      5 of 5       5 of 5              –\n" +
			"  hasty  ✗ Not held  4 of 5       5 of 5              frame 525, picture\n"))
	})

	It("has the row of a soak and counts over all of its repeats", func() {
		s := sampleSoak()
		s.Specs[0].Checkpoints[1].Counts = &Counts{117, 2, 0}
		s.Specs[0].Lockstep.Families = append(s.Specs[0].Lockstep.Families, Family{Repeats: []string{"hasty-61"}, From: 525, More: 3})
		out := told(s, TextOptions{})
		Expect(out).To(HavePrefix("\n? Cannot tell. Not told yet: 118 of 119"))
		Expect(out).To(ContainSubstring("\n  claim                       repeats  clean  parted  left out  clean needed\n  divergence below 1% at 95%      120    118       1         1           412\n"))
		Expect(out).To(MatchRegexp(`stands at the gate +62 +117 +2 +0`))
		Expect(out).To(ContainSubstring("family 2, from frame 525: hasty-61 and 3 more\n"))
	})

	It("has the rows of a check against a baseline, and does not say its verdict twice", func() {
		out := told(sampleBaseline(), TextOptions{})
		Expect(out).To(HavePrefix("\n✗ Worse: hasty parts in 3 of 7 candidate runs"))
		Expect(out).To(MatchRegexp(`\n  verdict +test +baseline +candidate +p, adjusted\n  ✗ worse +Repeats that part +0 of 20 +3 of 7 +0.012\n`))
		Expect(out).To(ContainSubstring("\npatient: cannot tell: 21 more repeats needed ?\n"))
	})

	It("is wrapped to the terminal, between words", func() {
		for name, sample := range samples {
			for _, wide := range []int{100, 132} {
				out := told(sample(), TextOptions{Width: wide})
				for _, line := range strings.Split(out, "\n") {
					Expect(columns(line)).To(BeNumerically("<=", wide), "%s: %q", name, line)
				}
				words := func(s string) string { return strings.Join(strings.Fields(s), " ") }
				if name != "baseline" && name != "soak" {
					Expect(words(out)).To(ContainSubstring(words(Plain(sample().lastSentence()))))
				}
			}
		}
	})

	It("has colours only when asked, and they change nothing else", func() {
		for _, sample := range samples {
			for _, wide := range []int{0, 90} {
				bare := told(sample(), TextOptions{Width: wide})
				Expect(bare).NotTo(ContainSubstring("\x1b"))
				colourful := told(sample(), TextOptions{Width: wide, Colour: true})
				Expect(painted.ReplaceAllString(colourful, "")).To(Equal(bare))
			}
		}
		Expect(told(sampleHeld(), TextOptions{Colour: true})).To(ContainSubstring("\x1b[1;36mheld\x1b[0m"))
	})

	It("lets no text act on the terminal", func() {
		for _, word := range append(nasty, "\x1b]0;title\x07", "\x1b[2J\x1b[H", "\u009b31m", "\u0085next", "a\rb", "a\bb", "\u061c\u200e", "\u2066\u2067\u2068\u2069\u202a\u202b\u202c\u202d\u202e") {
			for _, s := range []Session{filled(known(same(word))), filled(same(word))} {
				for _, o := range []TextOptions{{}, {Width: 80, Colour: true}} {
					out := painted.ReplaceAllString(told(s, o), "")
					for _, r := range out {
						Expect(r != '\n' && unicode.IsControl(r)).To(BeFalse(), "%q", word)
						Expect(r >= 0x202a && r <= 0x202e || r == 0x2066 || r == 0x2067 || r == 0x200e || r == 0x200f || r == 0x61c || r == 0x2028).To(BeFalse(), "%q", word)
					}
				}
			}
		}
	})

	It("isolates text that reads from right to left", func() {
		Expect(Plain("\u05e9\u05dc\u05d5\u05dd 1")).To(Equal("\u2068\u05e9\u05dc\u05d5\u05dd 1\u2069"))
		Expect(Plain("a\tb\n c")).To(Equal("a b c"))
		Expect(Plain("\x1b[31m\u202e")).To(Equal("[U+001B][31m[U+202E]"))
	})

	It("aligns what is wide, and cuts long names with an ellipsis", func() {
		// Widths: UAX #11, East Asian Width: ideographs take two columns.
		Expect(columns("日本")).To(Equal(4))
		Expect(columns("e\u0301")).To(Equal(1))
		s := sampleHeld()
		s.Specs[0].Checkpoints[0].Name, s.Specs[0].Checkpoints[1].Name = "日本", strings.Repeat("long ", 40)
		out := told(s, TextOptions{})
		var at []int
		for _, line := range strings.Split(out, "\n") {
			if m := regexp.MustCompile(` +5     0       0$`).FindStringIndex(line); m != nil {
				at = append(at, columns(line))
			}
		}
		Expect(at).To(HaveLen(5))
		Expect(at).To(HaveEach(at[0]))
		Expect(out).To(MatchRegexp(`\n  (long ){9}lo… +62 `))
	})
})

// lastSentence is that of the last spec, or of nothing.
func (s Session) lastSentence() string {
	if n := len(s.Specs); n > 0 {
		return s.Specs[n-1].Sentence
	}
	return "Nothing was played."
}
