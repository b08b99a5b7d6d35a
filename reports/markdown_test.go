package reports

import (
	"bytes"
	"fmt"
	"os/exec"
	"regexp"
	"strings"
	"unicode"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"golang.org/x/net/html"
)

func markdowned(s Session) string {
	GinkgoHelper()
	var b bytes.Buffer
	Expect(WriteMarkdown(&b, s)).To(Succeed())
	return b.String()
}

// nasty are texts that would do something in Markdown or on the page that shows it.
var nasty = []string{
	"a|b|c", `a\|b\\|c`, "<script>alert(1)</script>", "<img src=x onerror=y>", "<!-- -->", "&lt;b&gt; &amp; &copy;", "`code`", "``` \nblock\n```",
	"**bold** __bold__ _it_ ~~gone~~", "[x](http://e.example)", "![i](http://e.example/i.png)", "[x]: http://e.example", "[^1]", "<http://e.example>",
	"http://e.example/x https://e.example", "HTTPS://E.EXAMPLE", "www.e.example WWW.e.example", "a@e.example", "mailto:a@e.example", "xmpp:a@e.example/b",
	"@someone @some/team", "#12", "who/what#12", "GH-12 gh-7", "5b8c3cbf9a", ":smile: :a:b:c:", "$x$ $$y$$", "one\ntwo\n\nthree", "one\r\n| x |", "one\u2028two",
	"# head", "- item", "+ item", "* item", "1. item", "2) item", "> quote", "===", "---", "- [ ] task", "    indented", "\tindented", "\u202eright to left\u202c", "\u2066\u2067\u2069", "\u200f",
	"\u05e9\u05dc\u05d5\u05dd|", "\x1b[31m\x07\x9b", "\xff\xfe", `\`, "ends in \\", "|", "||", "<details>", "</td></tr></table>", strings.Repeat("`", 70), strings.Repeat("x", 5000), strings.Repeat("|", 5000),
}

// sent is what such texts could still be after Markdown took its escapes out.
var sent = regexp.MustCompile(`(?i)@[a-z0-9]|#\d|gh-\d|:[a-z0-9_+-]+:|://[a-z]|www\.[a-z]|mailto:[a-z]|xmpp:[a-z]|\b(?:[0-9]+[a-f]|[a-f]+[0-9])[0-9a-f]{5,38}\b`)

// pipes counts the bars of a line that part cells.
func pipes(line string) int {
	return strings.Count(strings.ReplaceAll(strings.ReplaceAll(line, `\\`, ""), `\|`, ""), "|")
}

var _ = Describe("the Markdown", func() {
	It("has the answer, the specs, the first divergence and what did not pass", func() {
		out := markdowned(sampleThree())
		Expect(out).To(HavePrefix("### ✗ Not held: Evening of the long cable\n\nNot frame-exact: 4 of 7"))
		Expect(out).To(ContainSubstring("| hasty | ✗ Not held | 4 of 7 (8 asked) | 3 of 5 | frame 214, input |\n"))
		Expect(out).To(ContainSubstring("| Where | hasty, frame 214, read 202 |\n"))
		Expect(out).To(ContainSubstring("| Program | line 23: hold right+b for 63 (first-lamp+60) |\n"))
		Expect(out).To(ContainSubstring("| hasty | toes cross the corner | jump+5 | 6 | 1 | 1 | hasty-4: best score 0.412"))
		Expect(out).NotTo(ContainSubstring("stands at the gate"))
		Expect(out).To(HaveSuffix("Bench: kitchen table; latchproof 0.1.0; 17 May 2031, 19:42 UTC\n"))
	})

	It("has the rows of a soak, counted over all repeats", func() {
		s := sampleSoak()
		s.Specs[0].Checkpoints[1].Verdict, s.Specs[0].Checkpoints[1].Counts = "fail", &Counts{117, 2, 0}
		out := markdowned(s)
		Expect(out).To(ContainSubstring("| divergence below 1% at 95% | ? Cannot tell | 120 | 118 | 1 | 1 | 412 |\n"))
		Expect(out).To(ContainSubstring("| hasty | stands at the gate | 62 | 117 | 2 | 0 |"))
	})

	It("has the tests of a check against a baseline", func() {
		out := markdowned(sampleBaseline())
		Expect(out).To(HavePrefix("### ✗ Worse: "))
		Expect(out).To(ContainSubstring("|  | Repeats that part | ✗ Worse | 0 of 20 | 3 of 7 | 0.012 |\n"))
		Expect(out).To(ContainSubstring("| patient | all | ? Cannot tell: 21 more repeats needed |"))
		Expect(out).To(ContainSubstring("- feeder firmware: 1.4 in the baseline, 1.5 in the candidate\n"))
	})

	It("says of nothing that nothing was played", func() {
		Expect(markdowned(Session{})).To(ContainSubstring("Nothing was played."))
	})

	for i, word := range nasty {
		It(fmt.Sprintf("keeps a text to its cell: %d, %.20q", i, word), func() {
			for _, s := range []Session{filled(known(same(word))), filled(same(word))} {
				cells := 0
				for _, line := range strings.Split(markdowned(s), "\n") {
					for _, r := range line {
						Expect(unicode.IsControl(r) || r >= 0x202a && r <= 0x202e || r == 0x2066 || r == 0x2067 || r == 0x200f).To(BeFalse(), "%q", line)
					}
					Expect(sent.FindString(strings.ReplaceAll(html.UnescapeString(line), `\#`, "#"))).To(BeEmpty(), line)
					switch {
					case !strings.HasPrefix(line, "|"):
						cells = 0
					case cells == 0:
						cells = pipes(line)
					default:
						Expect(pipes(line)).To(Equal(cells), line)
					}
				}
			}
		})
	}

	// The outside judge is the reference parser of that dialect (cmark-gfm 0.29.0.gfm.6 of Debian
	// 12) with its extensions.
	It("makes no markup of a text, says cmark-gfm", func() {
		if _, err := exec.LookPath("cmark-gfm"); err != nil {
			Skip("cmark-gfm is not installed")
		}
		allowed := " html head body h3 p strong table thead tbody tr th td ul li "
		for _, word := range nasty {
			cmd := exec.Command("cmark-gfm", "--unsafe", "-e", "table", "-e", "autolink", "-e", "strikethrough", "-e", "tasklist", "-e", "footnotes")
			cmd.Stdin = strings.NewReader(markdowned(filled(known(same(word)))))
			out, err := cmd.Output()
			Expect(err).NotTo(HaveOccurred())
			doc, err := html.Parse(bytes.NewReader(out))
			Expect(err).NotTo(HaveOccurred())
			texts := strings.Builder{}
			for n := range doc.Descendants() {
				switch n.Type {
				case html.ElementNode:
					Expect(allowed).To(ContainSubstring(" "+n.Data+" "), "%q", word)
				case html.TextNode:
					texts.WriteString(n.Data + "\n")
				case html.CommentNode:
					Fail("a comment of " + word)
				}
			}
			Expect(sent.FindString(texts.String())).To(BeEmpty())
			// What was written is what is read, but for the joiners.
			Expect(strings.ReplaceAll(texts.String(), joiner, "")).To(ContainSubstring("\n"+plain(word, longCell)+"\n"), "%q", word)
		}
	})

	It("has at most 60,000 bytes and says what it left out", func() {
		for _, word := range []string{strings.Repeat("x", 50), strings.Repeat("\u202e", 5000), strings.Repeat("日", 5000)} {
			s := filled(same(word))
			for range 7 {
				s.Specs = append(s.Specs, s.Specs...)
				s.Baseline.Specs = append(s.Baseline.Specs, s.Baseline.Specs...)
			}
			out := markdowned(s)
			Expect(len(out)).To(And(BeNumerically("<=", 60_000), BeNumerically(">", 50_000)))
			Expect(out).To(MatchRegexp(`\n[0-9,]+ lines were left out here; the report has them all\.\n`))
		}
	})
})
