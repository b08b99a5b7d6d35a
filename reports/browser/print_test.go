package browser

import (
	"bytes"
	"regexp"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var pdfPage = regexp.MustCompile(`/Type\s*/Page\b[^s]`)

// unprinted lists what is folded and would be missing on paper.
const unprinted = `[...document.querySelectorAll("details > :not(summary)")].filter(e => !e.getClientRects().length || !e.checkVisibility()).map(e => e.outerHTML.slice(0, 100))`

// beyond lists what is drawn beyond the sides of the paper.
const beyond = `[...document.querySelectorAll("body *")].filter(e => !(e.closest("svg") && e.tagName !== "svg") && !e.closest(".hide") && e.checkVisibility() && e.getBoundingClientRect().right > innerWidth + 1).map(e => e.outerHTML.slice(0, 100)).slice(0, 8)`

var _ = Describe("on paper", func() {
	It("is a document of a few pages with its pictures", func() {
		t := open(evening, desk)
		background := true
		out, err := chromedp.Call(t.ctx, page.PrintToPDF, page.PrintToPDFParams{PrintBackground: &background, PaperWidth: 8.27, PaperHeight: 11.69})
		Expect(err).NotTo(HaveOccurred())
		Expect(bytes.HasPrefix(out.Data, []byte("%PDF-"))).To(BeTrue())
		pages := len(pdfPage.FindAll(out.Data, -1))
		Expect(pages).To(And(BeNumerically(">=", 4), BeNumerically("<=", 16)))
		Expect(bytes.Count(out.Data, []byte("/Subtype /Image"))).To(BeNumerically(">=", 4))
		writeShot("print.pdf", out.Data)
	})

	It("shows what is folded on the screen, and loses nothing at the side", func() {
		// An A4 sheet with margins of 1 cm is 190 mm wide: 718 CSS pixels.
		for _, s := range []sample{evening, hundred} {
			t := open(s, view{w: 718, h: 1000, print: true})
			Expect(ask[int](t, `document.querySelectorAll("details:not([open])").length`)).To(BeNumerically(">", 3))
			Expect(ask[[]string](t, unprinted)).To(BeEmpty())
			Expect(ask[[]string](t, beyond)).To(BeEmpty())
		}
	})
})
