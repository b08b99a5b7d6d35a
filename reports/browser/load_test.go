package browser

import (
	"os"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("a page from disk", func() {
	It("opens without an error and without asking for anything, with its title", func() {
		t := open(evening, desk)
		Expect(ask[string](t, "document.title")).To(Equal("Not held: Evening of the long cable"))
		Expect(ask[int](t, `performance.getEntriesByType("resource").filter(r => !r.name.startsWith("data:")).length`)).To(BeZero())
		Expect(ask[int](t, `[...document.images].filter(i => !i.complete || !i.naturalWidth).length`)).To(BeZero(), "pictures that did not load")
		Expect(ask[int](t, "document.images.length")).To(BeNumerically(">", 5))
	})

	// The policy of the page forbids what these try. That it does is what makes
	// the silence of the other tests mean something.
	It("could not ask for anything if it tried", func() {
		file := GinkgoT().TempDir() + "/report.html"
		Expect(os.WriteFile(file, evening(), 0o666)).To(Succeed())
		t, end, err := openFile(file, desk)
		if err == errNoBrowser {
			Skip(err.Error())
		}
		Expect(err).NotTo(HaveOccurred())
		defer end()
		t.do(`const s = document.createElement("script"); s.textContent = "window.pwned = 1"; document.body.append(s);
			const i = new Image(); i.src = "https://h.invalid/x.png"; document.body.append(i);
			const f = document.createElement("iframe"); f.src = "https://h.invalid/"; document.body.append(f)`)
		Expect(ask[bool](t, "window.pwned === undefined")).To(BeTrue())
		Eventually(t.heardSoFar).Should(And(
			ContainElement(ContainSubstring("violates the following Content Security Policy directive")),
			ContainElement(ContainSubstring("img-src"))))
	})

	// A page must tell the answer before anything is scrolled.
	for name, v := range map[string]view{"a desk": desk, "a telephone": {w: 420, h: 860}} {
		It("answers on its first screen: "+name, func() {
			t := open(evening, v)
			seen := ask[string](t, `[...document.querySelectorAll(".answer .big, .answer .sentence, .answer .next, .answer .rate, .answer .words")]
				.filter(e => e.getBoundingClientRect().bottom <= innerHeight && e.checkVisibility()).map(e => e.innerText).join("\n")`)
			Expect(seen).To(And(ContainSubstring("Not frame-exact"), ContainSubstring("They part at frame 214 (input)"), ContainSubstring("What to try next: Start from power"), ContainSubstring("2 of 4"), MatchRegexp("95.% confidence")))
		})
	}

	It("is not moved by hostile text", func() {
		t := open(everything, desk)
		t.do(openAll)
		Expect(ask[bool](t, "window.pwned === undefined")).To(BeTrue())
		Expect(ask[int](t, `document.querySelectorAll("iframe, object, embed, link, base, img:not([src^='data:'])").length`)).To(BeZero())
		Expect(ask[int](t, `document.querySelectorAll("script:not([type='application/json'])").length`)).To(BeNumerically("<=", 1), "at most the page's own script")
		Expect(ask[string](t, "document.body.innerText")).To(And(ContainSubstring("<script>window.pwned=1;alert(1)"), ContainSubstring("פנס ראשון")))
		Expect(ask[int](t, `[...document.querySelectorAll("a")].filter(a => !a.getAttribute("href").startsWith("#")).length`)).To(BeZero())
	})

	It("has every link lead to a place on the page", func() {
		t := open(everything, desk)
		Expect(ask[[]string](t, `[...document.querySelectorAll("a")].map(a => a.getAttribute("href")).filter(h => !document.getElementById(h.slice(1).split(":")[0]))`)).To(BeEmpty())
		Expect(ask[[]string](t, `[...document.querySelectorAll("[id]")].map(e => e.id).filter((id, i, all) => all.indexOf(id) !== i)`)).To(BeEmpty(), "ids that are there twice")
	})

	// WCAG 2.2.2 and 2.3.1: nothing moves by itself, whatever the reader asked for.
	It("moves nothing by itself", func() {
		t := open(evening, desk)
		for _, v := range []view{desk, desk.with("prefers-reduced-motion", "reduce")} {
			t.set(v)
			Expect(ask[int](t, "document.getAnimations().length")).To(BeZero())
			Expect(ask[int](t, `document.querySelectorAll("video, audio, marquee, blink, animate, animateTransform, meta[http-equiv=refresh]").length`)).To(BeZero())
			Expect(ask[bool](t, `matchMedia("(prefers-reduced-motion: reduce)").matches`)).To(Equal(v.features != nil))
			slow := `[...document.querySelectorAll("*")].filter(e => { const s = getComputedStyle(e);
				return s.animationName !== "none" || s.transitionDuration.split(",").some(d => parseFloat(d) > 0) || s.scrollBehavior !== "auto" }).map(e => e.tagName + "." + e.className)`
			Expect(ask[[]string](t, slow)).To(BeEmpty())
		}
	})
})
