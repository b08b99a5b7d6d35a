package browser

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// wide lists what makes the page scroll sideways.
const wide = `(() => { const w = document.documentElement.clientWidth;
	if (document.documentElement.scrollWidth <= w && document.body.scrollWidth <= w) return [];
	return ["the page is " + document.documentElement.scrollWidth + " wide in " + w, ...[...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > w + 1 && !e.parentElement.closest(".scroll")).map(e => e.outerHTML.slice(0, 100)).slice(0, 5)] })()`

// cut lists elements whose text is cut off or laid over by what follows: their
// content is larger than they are, and they hide or overflow it. What is one pixel
// wide is there for those who listen. Chips and names
// that end in an ellipsis keep the whole in their title.
const cut = `[...document.querySelectorAll("body *")].filter(e => e instanceof HTMLElement && !e.matches(".hide, .hide *") && e.checkVisibility() && e.innerText?.trim() && e.clientWidth > 1 && getComputedStyle(e).display !== "inline").filter(e => {
	const s = getComputedStyle(e), x = e.scrollWidth > e.clientWidth + 1, y = e.scrollHeight > e.clientHeight + 1;
	if (s.textOverflow === "ellipsis") return false;
	return (s.overflowX === "hidden" || s.overflowX === "clip") && x || (s.overflowY === "hidden" || s.overflowY === "clip") && y || s.overflowY === "visible" && e.style.height && y;
}).map(e => e.outerHTML.slice(0, 100))`

// broken lists short words and numbers that stand on two lines. Long ones, as
// strangers write them, may be broken anywhere.
const broken = `(() => { const out = [], walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), range = document.createRange();
	for (let n; n = walker.nextNode();) {
		const e = n.parentElement;
		if (!n.data.trim() || e instanceof SVGElement || e.closest(".hide, script, style, code") || !e.checkVisibility()) continue;
		for (const m of n.data.matchAll(/(?<![^\s(])[+−-]?[\p{L}\p{N}.,]{2,12}(?![^\s).,:;])/gu)) {
			range.setStart(n, m.index); range.setEnd(n, m.index + m[0].length);
			const tops = [...range.getClientRects()].map(r => r.bottom);
			if (Math.max(...tops) - Math.min(...tops) > 4) out.push(m[0] + " in " + e.closest("td, th, p, div")?.outerHTML.slice(0, 80));
		}
	}
	return out.slice(0, 10) })()`

// What scrolls by itself is a named region or group that the keyboard can reach.
const loose = `[...document.querySelectorAll("body *")].filter(e => e instanceof HTMLElement && e.checkVisibility() && ["auto", "scroll"].includes(getComputedStyle(e).overflowX) && e.scrollWidth > e.clientWidth)
	.filter(e => !(["region", "group"].includes(e.getAttribute("role")) && e.tabIndex === 0 && e.getAttribute("aria-label"))).map(e => e.outerHTML.slice(0, 100))`

// tiny lists what is to be hit and is under 24 by 24 CSS pixels: WCAG 2.5.8. A box
// to tick is as large as its label. Links stand in sentences and table cells, and
// are as high as their line, which the criterion excepts.
const tiny = `[...document.querySelectorAll("summary, button, input, select, textarea")].filter(e => e.checkVisibility()).map(e => e.matches("[type=radio], [type=checkbox]") && e.closest("label") || e)
	.filter(e => { const r = e.getBoundingClientRect(); return r.width < 24 || r.height < 24 }).map(e => e.outerHTML.slice(0, 100))`

// spacing is the style of WCAG 1.4.12.
const spacing = `const s = document.createElement("style"); s.textContent = "*{line-height:1.5!important;letter-spacing:.12em!important;word-spacing:.16em!important}p{margin-bottom:2em!important}"; document.head.append(s)`

var _ = Describe("in little room", func() {
	roomy := func(t *tab) {
		GinkgoHelper()
		Expect(ask[[]string](t, wide)).To(BeEmpty(), "the page scrolls sideways")
		Expect(ask[[]string](t, cut)).To(BeEmpty(), "text is cut off")
		Expect(ask[[]string](t, loose)).To(BeEmpty(), "scrolls, and is no region with a name and a focus")
	}
	// WCAG 1.4.10: 320 CSS pixels are 1280 at a zoom of 400 %. 1.4.4: 200 %.
	for name, v := range map[string]view{"320 pixels": {w: 320, h: 700}, "zoom 200 %": {w: 640, h: 400, scale: 2}, "1000 pixels": {w: 1000, h: 700}} {
		It("only tables and drawings scroll sideways: "+name, func() {
			t := open(everything, v)
			roomy(t)
			t.do(openAll)
			roomy(t)
			t.do(spacing)
			roomy(t)
		})
	}

	It("no number and no short word is broken", func() {
		for _, s := range []sample{evening, hundred} {
			t := open(s, desk)
			t.do(openAll)
			for _, v := range []view{desk, {w: 320, h: 700}, {w: 718, h: 1000, print: true}} {
				t.set(v)
				Expect(ask[[]string](t, broken)).To(BeEmpty(), "%d wide", v.w)
			}
		}
	})

	It("text of twice the size has its room", func() {
		t := open(everything, desk)
		t.do(openAll + `; document.documentElement.style.fontSize = "200%"`)
		roomy(t)
	})

	It("what is to be hit is large enough", func() {
		t := open(evening, view{w: 420, h: 800})
		t.do(openAll)
		Expect(ask[[]string](t, tiny)).To(BeEmpty())
	})
})
