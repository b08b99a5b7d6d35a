package index

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"golang.org/x/net/html"

	"latchproof/reports"
	"latchproof/reports/plot"
)

// parsePage gives the elements of a page with the names of their attributes, the
// links, and the text.
func parsePage(page string) (shapes, links []string, words string) {
	GinkgoHelper()
	root, err := html.Parse(strings.NewReader(page))
	Expect(err).NotTo(HaveOccurred())
	var b strings.Builder
	for n := range root.Descendants() {
		switch n.Type {
		case html.ElementNode:
			s := n.Data
			for _, a := range n.Attr {
				s += " " + a.Key
				if a.Key == "href" {
					links = append(links, a.Val)
				}
			}
			shapes = append(shapes, s)
		case html.TextNode:
			if n.Parent.Data != "style" {
				b.WriteString(n.Data + "\n")
			}
		}
	}
	return shapes, links, b.String()
}

// hostileSessions puts a text into every place that a stranger may fill.
func hostileSessions(text string) Index {
	var x Index
	for i := range 2 {
		x.Sessions = append(x.Sessions, Session{
			Path: "a/report.json", Title: text, Made: today, Dated: true, Bench: text, Revision: text, Firmware: text + fmt.Sprint(i), FeederSerial: text, ConsoleSerial: text + fmt.Sprint(i),
			Verdict: []string{notHeld, held}[i], Page: true,
			Specs: []Spec{{Name: text, ProgramHash: text + fmt.Sprint(i), Verdict: []string{notHeld, held}[i], InStep: 2, Repeats: 5, Rate: &Spread{0.25, 0.1, 0.5}, First: &Divergence{7, text, text}, Note: text}},
		})
	}
	x.Folder, x.Version = text, text
	x.Unread = []Unread{{text, text}}
	x.Notes = []string{text}
	x.answer()
	return x
}

var _ = Describe("the page", func() {
	DescribeTable("is not changed by hostile text, which stays readable",
		func(text, shown string) {
			plain, links, _ := parsePage(render(hostileSessions("plain")))
			page := render(hostileSessions(text))
			shapes, hrefs, words := parsePage(page)
			Expect(shapes).To(Equal(plain))
			Expect(hrefs).To(Equal(links))
			Expect(words).To(ContainSubstring(shown))
			Expect(shapes).NotTo(ContainElement(HavePrefix("script")))
			Expect(page).NotTo(ContainSubstring("\u202e"))
		},
		Entry("a script", `<script>alert(1)</script>`, `<script>alert(1)`),
		Entry("double quotes", `" onload="alert(1)`, `" onload="alert(1)`),
		Entry("single quotes", `' onload='alert(1)`, `' onload='alert(1)`),
		Entry("the end of the style", `</style><b>x`, `</style><b>x`),
		Entry("the end of a title", `</title></svg><hr>`, `</title></svg><hr>`),
		Entry("a comment", `<!-- --><!--`, `<!-- --><!--`),
		Entry("a template action", `{{.Title}}`, `{{.Title}}`),
		Entry("an address that is a program", `javascript:alert(1)`, `javascript:alert(1)`),
		Entry("a right-to-left override", "abc\u202edef", "abc[U+202E]def"),
		Entry("control characters", "a\x00b\x1bc", "a[U+0000]b[U+001B]c"),
		Entry("bytes that are not UTF-8", "a\xff\xfeb", "a\uFFFDb"),
		Entry("very long", strings.Repeat("long ", 100), "long …"),
	)

	DescribeTable("links to the page of a session, whatever its folder is called",
		func(folder, to, want string) {
			x := hostileSessions("x")
			for i := range x.Sessions {
				x.Sessions[i].Path = folder + "/report.json"
			}
			var b strings.Builder
			Expect(WriteHTML(&b, x, to)).To(Succeed())
			_, links, _ := parsePage(b.String())
			Expect(links).To(ContainElement(want))
			for _, l := range links {
				Expect(l).To(Or(HavePrefix("#"), Equal(want)))
			}
		},
		Entry("plain", "a", ".", "./a/report.html"),
		Entry("a scheme", "javascript:alert(1)", ".", "./javascript:alert%281%29/report.html"),
		Entry("quotes and markup", `"><script>`, ".", "./%22%3E%3Cscript%3E/report.html"),
		Entry("marks of addresses", "a?b#c%41", ".", "./a%3Fb%23c%2541/report.html"),
		Entry("spaces", "a b/c", ".", "./a%20b/c/report.html"),
		Entry("not UTF-8", "a\xff", ".", "./a%FF/report.html"),
		Entry("another place", "a", "../runs", "./../runs/a/report.html"),
	)

	It("has no script, forbids one, and loads nothing", func() {
		page := render(hostileSessions("x"))
		Expect(page).To(ContainSubstring(`<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">`))
		Expect(page).NotTo(MatchRegexp(`(?i)<script|\son[a-z]+=|url\(|@import|<img|<link`))
		Expect(page[:1024]).To(ContainSubstring(Mark))
	})

	It("has a rule for each class of a trend, and no colour that is not in the palette", func() {
		for _, c := range plot.TrendClasses() {
			Expect(styleText).To(MatchRegexp(`\.` + c + `[{,]`))
		}
		Expect(styleText).NotTo(MatchRegexp(`#[0-9a-fA-F]{3,8}\b|rgb\(|hsl\(`))
		defined := reports.Colours() + styleText
		for _, v := range regexp.MustCompile(`var\(--([a-z0-9-]+)`).FindAllStringSubmatch(styleText+pageText, -1) {
			Expect(defined).To(ContainSubstring("--" + v[1] + ":"))
		}
	})

	It("filters by links alone: each filter hides the rows that are not of it", func() {
		dir := GinkgoT().TempDir()
		put(dir, "1", session(2, "1.2", outcome{"lamp", "held", 5, 5}))
		put(dir, "2", session(1, "1.3", outcome{"cart", "not held", 3, 5}))
		page := render(read(dir))
		_, links, _ := parsePage(page)
		rows := map[string][]string{} // by path, the classes
		for _, m := range regexp.MustCompile(`<tr class="([^"]*)"[^>]*><th scope="row"><a href="./(\d)/`).FindAllStringSubmatch(page, -1) {
			rows[m[2]] = strings.Fields(m[1])
		}
		Expect(rows).To(HaveLen(2))
		rules := regexp.MustCompile(`#(f-[a-z0-9]+):target~\.scroll tbody tr:not\(\.([a-z0-9]+)\)\{display:none\}`).FindAllStringSubmatch(page, -1)
		shown := map[string]string{}
		for _, r := range rules {
			Expect(links).To(ContainElement("#" + r[1]))
			Expect(strings.Count(page, `id="`+r[1]+`"`)).To(Equal(1))
			for path, classes := range rows {
				if slices.Contains(classes, r[2]) {
					shown[r[1]] += path
				}
			}
		}
		Expect(rules).To(HaveLen(7))
		Expect(shown).To(Equal(map[string]string{"f-yes": "1", "f-no": "2", "f-c0": "2", "f-c1": "1", "f-s0": "2", "f-s1": "1"}))
		for _, l := range links {
			if id, ok := strings.CutPrefix(l, "#"); ok && id != "" {
				Expect(page).To(ContainSubstring(`id="` + id + `"`))
			}
		}
	})

	It("stays under 3 MB with 5,000 sessions, and with 5,000 of the longest texts", func() {
		for _, long := range []bool{false, true} {
			var x Index
			for i := range maxSessions {
				s := Session{Path: fmt.Sprintf("runs/s%04d/report.json", i), Page: true, Made: today.Add(-time.Duration(i) * 5 * time.Hour), Dated: true, Bench: "workbench", Revision: "C", Firmware: fmt.Sprintf("1.%d", i/700), Verdict: notHeld,
					JitterUS: &Spread{3, 2, 5}, PPM: &Spread{float64(i % 7), 0, 9}, ServiceUS: &Spread{1, 1, 3}}
				for k := range 3 {
					s.Specs = append(s.Specs, Spec{Name: fmt.Sprintf("some spec %d", k), Verdict: notHeld, InStep: 3, Repeats: 5, Rate: &Spread{float64(i%5) / 5, 0, 1}, First: &Divergence{123, "picture", "console"}})
				}
				if long {
					s.Path = fmt.Sprintf("%s%d/report.json", strings.Repeat("<", 200), i)
					s.Bench, s.Revision, s.Firmware = strings.Repeat("&", 300), strings.Repeat("<", 300), fmt.Sprint(i)+strings.Repeat(`"`, 290)
					for k := range 200 {
						s.Specs = append(s.Specs, Spec{Name: strings.Repeat("'", 200) + fmt.Sprint(k%40, i), Verdict: held, Repeats: 5, Rate: &Spread{1, 0, 1}})
						if i > 20 {
							break // a few sessions with as many as are kept
						}
					}
				}
				x.Sessions = append(x.Sessions, s)
			}
			for i := range maxUnread {
				x.Unread = append(x.Unread, Unread{fmt.Sprint(i, strings.Repeat("<", 300)), strings.Repeat("&", 300)})
			}
			x.answer()
			page := render(x)
			Expect(len(page)).To(BeNumerically("<", 3_000_000))
			rows := strings.Count(page, `<td class="v">`)
			if long {
				Expect(page).To(ContainSubstring("older sessions are not listed"))
			} else {
				Expect(rows).To(Equal(maxSessions))
				Expect(page).To(ContainSubstring("older configurations"))
				Expect(page).To(MatchRegexp(`points are not drawn`))
			}
		}
	})

	It("is written to the file of LATCHPROOF_INDEX_SAMPLE, for looking at", func() {
		file := os.Getenv("LATCHPROOF_INDEX_SAMPLE")
		if file == "" {
			Skip("LATCHPROOF_INDEX_SAMPLE is not set")
		}
		Expect(os.WriteFile(filepath.Clean(file), []byte(render(hostileSessions("<b>"))), 0o666)).To(Succeed())
	})
})
