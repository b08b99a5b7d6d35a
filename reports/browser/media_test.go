package browser

import (
	"fmt"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// faint lists the texts whose contrast with what is behind them is under 4.5, or
// under 3 where they are large: WCAG 1.4.3 by the formula of its definition of
// relative luminance. The texts of drawings are among them, which the checker of
// axe_test.go does not look at.
const faint = `(() => {
	const canvas = Object.assign(document.createElement("canvas"), {width: 1, height: 1}).getContext("2d", {willReadFrequently: true});
	const rgba = c => { canvas.clearRect(0, 0, 1, 1); canvas.fillStyle = c; canvas.fillRect(0, 0, 1, 1); const d = canvas.getImageData(0, 0, 1, 1).data; return [d[0], d[1], d[2], d[3] / 255] };
	const known = new Map(), colour = c => known.get(c) ?? known.set(c, rgba(c)).get(c);
	const lum = c => c.slice(0, 3).map(v => (v /= 255) <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4).reduce((s, v, i) => s + v * [0.2126, 0.7152, 0.0722][i], 0);
	const behind = e => { for (; e; e = e.parentElement) { const c = colour(getComputedStyle(e).backgroundColor); if (c[3] === 1) return c; if (c[3] > 0) throw Error("half see-through " + e.className) } return colour("Canvas") };
	const out = [], walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
	window.texts = 0;
	for (let n; n = walker.nextNode();) {
		const e = n.parentElement;
		if (!n.data.trim() || !e.checkVisibility({visibilityProperty: true}) || e.closest(".hide, title, desc, script, style")) continue;
		window.texts++;
		const s = getComputedStyle(e), svg = e instanceof SVGElement, fore = colour(svg ? s.fill : s.color), back = behind(e);
		const a = lum(fore), b = lum(back), ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
		const size = parseFloat(s.fontSize), large = size >= 24 || size >= 18.66 && s.fontWeight >= 700;
		if (ratio < (large ? 3 : 4.5)) out.push(n.data.slice(0, 40) + ": " + ratio.toFixed(2) + ", " + fore + " on " + back + " in " + e.outerHTML.slice(0, 60));
	}
	return out.slice(0, 10);
})()`

var _ = Describe("light, dark, and colours of the reader's own", func() {
	for _, scheme := range []string{"light", "dark"} {
		for _, forced := range []string{"none", "active"} {
			It(fmt.Sprintf("text stands out: %s, forced colours %s", scheme, forced), func() {
				t := open(evening, desk.with("prefers-color-scheme", scheme).with("forced-colors", forced))
				Expect(ask[bool](t, fmt.Sprintf(`matchMedia("(prefers-color-scheme: %s)").matches && matchMedia("(forced-colors: %s)").matches`, scheme, forced))).To(BeTrue())
				t.do(openAll)
				Expect(ask[[]string](t, faint)).To(BeEmpty())
				Expect(ask[int](t, "window.texts")).To(BeNumerically(">", 300))
			})
		}
	}

	It("dark is dark and light is light", func() {
		ground := `(() => { const c = getComputedStyle(document.body).backgroundColor.match(/\d+/g).map(Number); return (c[0] + c[1] + c[2]) / 3 })()`
		t := open(evening, desk)
		Expect(ask[float64](t, ground)).To(BeNumerically(">", 200))
		t.set(desk.with("prefers-color-scheme", "dark"))
		Expect(ask[float64](t, ground)).To(BeNumerically("<", 60))
	})

	// WCAG 1.4.1: the colours say nothing that a word does not.
	It("every verdict is a word and a shape", func() {
		t := open(evening, desk.with("forced-colors", "active"))
		t.do(openAll)
		Expect(ask[int](t, `document.querySelectorAll(".verdict").length`)).To(BeNumerically(">", 10))
		Expect(ask[[]string](t, `[...document.querySelectorAll(".verdict:not(.v-words)")].filter(e => !e.innerText.trim() || !(e.querySelector("svg use")?.getBoundingClientRect().width >= 8)).map(e => e.outerHTML)`)).To(BeEmpty())
	})
})
