package browser

import (
	"fmt"

	"github.com/chromedp/chromedp"
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// stops puts all that can be worked, or scrolled, into window.stops in the order
// of the document, which is the order of reading, and gives their number. Of radio
// buttons of one name, the group is one stop. Chromium makes what scrolls and
// holds nothing to focus a stop of its own.
const stops = `(() => {
	const scrolls = e => ["auto", "scroll"].includes(getComputedStyle(e).overflowX) && (e.scrollWidth > e.clientWidth || e.scrollHeight > e.clientHeight);
	window.stops = [...document.querySelectorAll("*")].filter(e => {
		if (!e.checkVisibility({visibilityProperty: true, contentVisibilityAuto: true}) || e.disabled) return false;
		if (e.type === "radio" && document.querySelector("input[type=radio][name='" + e.name + "']:checked") !== e) return false;
		return e.tabIndex >= 0 && e.matches("a[href], button, input, select, textarea, summary, [tabindex]") || scrolls(e) && !e.querySelector("a, button, input, summary");
	});
	return window.stops.length;
})()`

// at tells of the element that has the focus: its index among the stops, -1 for
// the page itself and -2 for anything else, and what is wrong with how it shows
// that it has the focus.
const at = `(() => {
	const e = document.activeElement, i = e === document.body || e === document.documentElement ? -1 : window.stops.indexOf(e);
	const out = {Index: i < 0 && e !== document.body && e !== document.documentElement ? -2 : i, What: e.outerHTML.slice(0, 120), Wrong: ""};
	if (out.Index === -1) return out;
	const s = getComputedStyle(e), r = e.getBoundingClientRect();
	if (!e.matches(":focus-visible")) out.Wrong += "not focus-visible; ";
	if (s.outlineStyle === "none" || parseFloat(s.outlineWidth) < 2) out.Wrong += "outline " + s.outline + "; ";
	if (r.bottom <= 0 || r.top >= innerHeight || r.right <= 0 || r.left >= innerWidth) out.Wrong += "out of sight; ";
	return out;
})()`

type stop struct {
	Index       int
	What, Wrong string
}

var _ = Describe("with the keyboard alone", func() {
	// WCAG 2.1.1, 2.1.2, 2.4.3, 2.4.7, 2.4.11.
	walk := func(t *tab) {
		GinkgoHelper()
		n := ask[int](t, stops)
		Expect(n).To(BeNumerically(">", 15))
		for i := range n {
			t.press("\t")
			got := ask[stop](t, at)
			Expect(got.Index).To(Equal(i), "stop %d of %d is %s, not %s", i, n, got.What, ask[string](t, fmt.Sprintf("window.stops[%d].outerHTML.slice(0, 120)", i)))
			Expect(got.Wrong).To(BeEmpty(), got.What)
		}
		t.press("\t")
		Expect(ask[stop](t, at).Index).To(BeElementOf(-1, 0), "the end of the page lets the focus go")
		t.do(fmt.Sprintf("window.stops[%d].focus()", n-1))
		for i := n - 2; i >= max(0, n-12); i-- {
			t.press("\t", chromedp.KeyModifiers(chromedp.ModifierShift))
			Expect(ask[stop](t, at).Index).To(Equal(i), "backwards")
		}
	}

	It("every stop is reached in the order of reading, shows its focus, and lets it go", func() {
		walk(open(evening, desk))
	})

	It("so with all opened, in a narrow window and in the dark", func() {
		t := open(evening, view{w: 420, h: 800}.with("prefers-color-scheme", "dark"))
		t.do(openAll)
		walk(t)
	})

	// WCAG 1.3.2 and 2.4.3: a stop stands below the one before it, or beside it.
	It("the order of the stops is that of their places", func() {
		t := open(evening, desk)
		t.do(openAll)
		Expect(ask[int](t, stops)).To(BeNumerically(">", 20))
		Expect(ask[[]string](t, `window.stops.flatMap((e, i) => { if (!i) return []; const a = window.stops[i-1].getBoundingClientRect(), b = e.getBoundingClientRect();
			return b.top >= a.top - 4 || b.left >= a.right - 4 ? [] : [window.stops[i-1].outerHTML.slice(0, 80) + " before " + e.outerHTML.slice(0, 80)] })`)).To(BeEmpty())
	})

	It("opens and closes what is folded, and follows links", func() {
		t := open(evening, desk)
		Expect(ask[int](t, `document.querySelectorAll("details").length`)).To(BeNumerically(">", 3))
		t.do(`window.d = document.querySelector("details:not([open])"); d.querySelector("summary").focus()`)
		for _, key := range []string{"\r", " "} {
			t.press(key)
			Expect(ask[bool](t, "d.open")).To(BeTrue(), "%q opens", key)
			t.press(key)
			Expect(ask[bool](t, "d.open")).To(BeFalse(), "%q closes", key)
		}
		t.do(`window.a = document.querySelector(".jump a"); a.focus()`)
		t.press("\r")
		Expect(ask[bool](t, `location.hash === a.hash && document.querySelector(a.hash).getBoundingClientRect().top < innerHeight`)).To(BeTrue())
		t.press("\t")
		Expect(ask[bool](t, `document.querySelector(a.hash).compareDocumentPosition(document.activeElement) === 20`)).To(BeTrue(), "the focus goes on from the place that the link leads to")
	})

	It("scrolls wide tables", func() {
		t := open(evening, view{w: 420, h: 800})
		t.do(`window.s = [...document.querySelectorAll(".scroll")].find(e => e.scrollWidth > e.clientWidth); s.focus()`)
		Expect(ask[bool](t, "document.activeElement === s")).To(BeTrue())
		t.press("\u0303") // arrow right
		Eventually(func() float64 { return ask[float64](t, "s.scrollLeft") }).Should(BeNumerically(">", 0))
	})
})
