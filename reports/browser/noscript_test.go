package browser

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("with JavaScript off", func() {
	It("the essentials are there", func() {
		v := desk
		v.noScript = true
		t := open(evening, v)
		words := ask[string](t, "document.body.innerText")
		for _, w := range []string{"Not held", "They part at frame 214 (input)", "2 of 4 repeats in lockstep", "What to try next", "Start from power instead of reset",
			"Families of repeats", "Checkpoints", "How long they stay in lockstep", "Repeats", "hold right+b for 130", "read 196: right+b"} {
			Expect(words).To(ContainSubstring(w))
		}
		Expect(ask[[]string](t, `[...document.querySelectorAll(".part")].slice(0, 1).flatMap(p => [...p.querySelectorAll(".pair img")]).filter(i => i.checkVisibility() && i.naturalWidth && i.getBoundingClientRect().width >= i.naturalWidth).map(i => i.alt)`)).
			To(ContainElements(HavePrefix("hasty-1 at frame 214"), HavePrefix("hasty-2 at frame 214")), "both pictures, at whole pixels")
		t.do(`document.querySelector("details:not([open]) > summary").click()`)
		Expect(ask[int](t, `document.querySelectorAll("svg.axis, svg.plot").length`)).To(BeNumerically(">=", 3))
	})

	It("shows no control that would do nothing", func() {
		v := desk
		v.noScript = true
		t := open(evening, v)
		t.do(openAll)
		Expect(ask[[]string](t, `[...document.querySelectorAll("button, input, select, textarea, [role=slider], [role=button]")].filter(e => e.checkVisibility()).map(e => e.outerHTML.slice(0, 100))`)).To(BeEmpty())
	})
})
