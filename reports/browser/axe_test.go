package browser

import (
	"crypto/sha256"
	_ "embed"
	"encoding/hex"
	"fmt"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// axe is axe-core 4.14.1; see the package documentation for where it is from.
//
//go:embed testdata/axe/axe.min.js
var axe string

const axeSum = "29348999450cdf2849a8e70b7912fc2da85a849da39c0d0d5394f51d4a9ed95c"

type finding struct {
	ID, Impact, Help string
	Nodes            []struct{ Target, HTML, Summary string }
}

func (f finding) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s: %s (%d)", f.Impact, f.ID, f.Help, len(f.Nodes))
	for _, n := range f.Nodes[:min(4, len(f.Nodes))] {
		fmt.Fprintf(&b, "\n   %s\n   %.160s\n   %s", n.Target, n.HTML, strings.ReplaceAll(n.Summary, "\n", " "))
	}
	return b.String()
}

// check runs the checker's rules for WCAG 2.0 to 2.2, levels A and AA, and its
// best practices, over the whole page, and gives what it finds, however light.
func check(t *tab) (found []string) {
	GinkgoHelper()
	Expect(ask[string](t, axe+"\n;axe.version")).To(Equal("4.14.1"))
	got := ask[struct {
		Found []finding
		Ran   int
	}](t, `axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22a", "wcag22aa", "best-practice"], resultTypes: ["violations"]}).then(r => ({
		Ran: r.passes.length, Found: r.violations.map(v => ({ID: v.id, Impact: v.impact, Help: v.help, Nodes: v.nodes.map(n => ({Target: n.target.join(" "), HTML: n.html, Summary: n.failureSummary}))}))}))`)
	Expect(got.Ran).To(BeNumerically(">", 15), "rules that had something to look at")
	for _, f := range got.Found {
		found = append(found, f.String())
	}
	return found
}

var _ = Describe("the accessibility checker", func() {
	It("is the one that is named", func() {
		sum := sha256.Sum256([]byte(axe))
		Expect(hex.EncodeToString(sum[:])).To(Equal(axeSum))
	})

	It("finds what is wrong", func() {
		t := open(evening, desk)
		t.do(`[...document.images].find(i => i.checkVisibility()).removeAttribute("alt"); document.querySelector(".sentence").style.color = "#aaa"; document.documentElement.lang = ""`)
		Expect(strings.Join(check(t), "\n")).To(And(ContainSubstring("image-alt"), ContainSubstring("color-contrast"), ContainSubstring("html-has-lang")))
	})

	for _, scheme := range []string{"light", "dark"} {
		It("finds nothing, "+scheme, func() {
			t := open(evening, desk.with("prefers-color-scheme", scheme))
			Expect(check(t)).To(BeEmpty())
			t.do(openAll)
			Expect(check(t)).To(BeEmpty(), "with all opened")
		})
	}

	It("finds nothing in a page with everything, all opened, in a narrow window", func() {
		t := open(everything, view{w: 420, h: 800})
		t.do(openAll)
		Expect(check(t)).To(BeEmpty())
	})
})
