package browser

import (
	"fmt"
	"regexp"
	"strconv"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/fixtures/lamplighter"
)

// viewer is the viewer of the first divergence, which is at frame 214.
type viewer struct{ *tab }

func openViewer(v view) viewer {
	GinkgoHelper()
	w := viewer{open(evening, v)}
	w.do(`window.v = document.querySelector(".viewer"); window.one = q => v.querySelector(q)`)
	Expect(ask[bool](w.tab, "v.checkVisibility()")).To(BeTrue())
	w.shows(214)
	return w
}

func (w viewer) frame() int {
	GinkgoHelper()
	n, err := strconv.Atoi(ask[string](w.tab, `v.dataset.frame || "0"`))
	Expect(err).NotTo(HaveOccurred())
	return n
}

// shows waits until a frame is shown, and holds what stands beside it.
func (w viewer) shows(f int) {
	GinkgoHelper()
	Eventually(w.frame).Should(Equal(f))
	Expect(ask[string](w.tab, `one(".v-frame").innerText`)).To(Equal(fmt.Sprintf("Frame %d", f)))
	Expect(ask[string](w.tab, `one("[data-run=a]").innerText`)).To(And(ContainSubstring("read %d", f-12), ContainSubstring("hold right+b for 130"), ContainSubstring("lindens+%d", 18+f-214)))
	Expect(ask[float64](w.tab, `one("[data-in=frame]").valueAsNumber`)).To(BeEquivalentTo(f - 214 + windowBefore))
}

// pixels are those that a canvas of a pane holds, as 0xRRGGBB.
func (w viewer) pixels(pane string) []int {
	GinkgoHelper()
	return ask[[]int](w.tab, fmt.Sprintf(`(() => { const c = one("[data-pane=%s] canvas"), g = Object.assign(document.createElement("canvas"), {width: c.width, height: c.height}).getContext("2d", {willReadFrequently: true}), out = [];
		g.drawImage(c, 0, 0);
		const d = g.getImageData(0, 0, c.width, c.height).data;
		for (let i = 0; i < d.length; i += 4) out.push(d[i+3] ? d[i] << 16 | d[i+1] << 8 | d[i+2] : -1); return out })()`, pane))
}

// truth are the pixels of a run so many frames after the parting.
func truth(run int, after int64) (out []int) {
	for _, v := range played()[run][partsAt()+after] {
		c := lamplighter.Palette[v]
		out = append(out, int(c.R)<<16|int(c.G)<<8|int(c.B))
	}
	return out
}

// click presses the mouse in the middle of an element.
func (w viewer) click(selector string) {
	GinkgoHelper()
	w.do(fmt.Sprintf(`one(%q).scrollIntoView({block: "center"})`, selector))
	p := w.place(selector, 0.5, 0.5)
	Expect(chromedp.Do(w.ctx, chromedp.MouseClickXY(p[0], p[1]))).To(Succeed())
}

func (w viewer) place(selector string, x, y float64) []float64 {
	GinkgoHelper()
	return ask[[]float64](w.tab, fmt.Sprintf(`(() => { const r = one(%q).getBoundingClientRect(); return [r.left + r.width * %g, r.top + r.height * %g] })()`, selector, x, y))
}

func (w viewer) mouse(kind input.DispatchMouseEventType, p []float64, buttons int64) {
	GinkgoHelper()
	e := input.DispatchMouseEventParams{Type: kind, X: p[0], Y: p[1], Buttons: buttons}
	if kind != input.DispatchMouseEventTypeMouseMoved {
		e.ClickCount = 1
	}
	if e.ClickCount > 0 || buttons > 0 {
		e.Button = input.MouseButtonLeft
	}
	_, err := chromedp.Call(w.ctx, input.DispatchMouseEvent, e)
	Expect(err).NotTo(HaveOccurred())
}

var _ = Describe("the viewer", func() {
	It("shows the very pixels of both runs on every frame, stepped with the mouse", func() {
		w := openViewer(desk)
		for i := range int64(3) {
			Expect(w.pixels("a")).To(Equal(truth(0, i)), "frame %d", 214+i)
			Expect(w.pixels("b")).To(Equal(truth(1, i)), "frame %d", 214+i)
			w.click("[data-do=on]")
			w.shows(215 + int(i))
		}
		Expect(ask[string](w.tab, `one("[data-pane=b] .v-none").innerText`)).To(Equal("unseen: the capture has no picture of it"))
		Expect(w.pixels("b")).To(HaveEach(-1), "an unseen picture is empty")
		Expect(ask[string](w.tab, `one(".v-words").innerText`)).To(ContainSubstring("unseen"))
		w.click("[data-do=back]")
		w.shows(216)
		w.click("[data-do=part]")
		w.shows(214)
	})

	It("is worked with the keyboard, and goes no further than its ends", func() {
		w := openViewer(desk)
		w.do(`one(".v-stage").focus()`)
		for _, s := range []struct {
			key   string
			frame int
		}{{kb.ArrowLeft, 213}, {kb.ArrowRight, 214}, {kb.ArrowRight, 215}, {kb.End, 214 + windowAfter}, {kb.ArrowRight, 214 + windowAfter}, {kb.Home, 214 - windowBefore}, {kb.ArrowLeft, 214 - windowBefore}} {
			w.press(s.key)
			w.shows(s.frame)
		}
		Expect(w.pixels("a")).To(Equal(w.pixels("b")), "before the parting")
		w.do(`one("[data-in=frame]").focus()`)
		w.press(kb.ArrowRight)
		w.shows(214 - windowBefore + 1)
		w.do(`one("[data-do=part]").focus()`)
		w.press(kb.Enter)
		w.shows(214)
	})

	It("a magnified picture is scrolled with the keyboard", func() {
		w := openViewer(desk)
		reach := `[one("[data-pane=a] .v-scroll").tabIndex, one("[data-pane=a] .v-scroll").getAttribute("role")].join(" ")`
		Expect(ask[string](w.tab, reach)).To(HavePrefix("-1"), "no stop where nothing scrolls")
		w.do(`one("[data-in=scale]").value = "8"; one("[data-in=scale]").dispatchEvent(new Event("change"))`)
		Expect(ask[string](w.tab, reach)).To(Equal("0 group"))
		w.do(`const s = one("[data-pane=a] .v-scroll"); s.scrollLeft = s.scrollTop = 0; s.focus()`)
		w.press(kb.ArrowRight, chromedp.KeyModifiers(chromedp.ModifierShift))
		w.press(kb.ArrowDown)
		Eventually(func() []float64 {
			return ask[[]float64](w.tab, `[one("[data-pane=a] .v-scroll").scrollLeft, one("[data-pane=a] .v-scroll").scrollTop]`)
		}).Should(HaveEach(BeNumerically(">", 0)))
		w.shows(214)
	})

	It("says the frame and the verdict to those who listen", func() {
		w := openViewer(desk)
		Expect(ask[bool](w.tab, `(e => e.matches("[role=status], [aria-live=polite]"))(one(".v-words"))`)).To(BeTrue())
		Expect(ask[string](w.tab, `one(".v-words").textContent`)).To(MatchRegexp(`^Frame 214: .*differ`))
		w.click("[data-do=back]")
		w.shows(213)
		Expect(ask[string](w.tab, `one(".v-words").textContent`)).To(MatchRegexp(`^Frame 213: .*no block differs`))
		Expect(ask[string](w.tab, `one("[data-in=frame]").getAttribute("aria-valuetext")`)).To(HavePrefix("frame 213, "))
	})

	// The page's own words say how: the largest difference of red, green and blue,
	// 4 times as bright.
	It("magnifies the difference, and outlines the blocks that differ", func() {
		w := openViewer(desk)
		w.click("input[value=diff]")
		Eventually(func() string { return ask[string](w.tab, "v.dataset.view") }).Should(Equal("diff"))
		a, b := truth(0, 0), truth(1, 0)
		want := make([]int, len(a))
		for i := range a {
			d := 0
			for s := 0; s < 24; s += 8 {
				x, y := a[i]>>s&255, b[i]>>s&255
				d = max(d, x-y, y-x)
			}
			d = min(4*d, 255)
			want[i] = d<<16 | d<<8 | d
		}
		Expect(w.pixels("d")).To(Equal(want))
		outline := `[...one("[data-pane=d] .over .mark").getAttribute("d").matchAll(/M(\d+) (\d+)/g)].map(m => [+m[1], +m[2]])`
		corners := ask[[][]int](w.tab, outline)
		Expect(corners).NotTo(BeEmpty())
		for _, c := range corners {
			Expect([]int{c[0] % 8, c[1] % 8}).To(Equal([]int{0, 0}))
		}
		Expect(ask[string](w.tab, `one(".v-words").innerText`)).To(MatchRegexp(`\d+ blocks? differs?`))
		w.click("[data-in=blocks]")
		Expect(ask[[][]int](w.tab, outline)).To(BeEmpty())
	})

	It("has a divider for the mouse and for the keyboard", func() {
		w := openViewer(desk)
		w.click("input[value=slide]")
		Eventually(func() bool { return ask[bool](w.tab, `one("[data-in=cut]").checkVisibility()`) }).Should(BeTrue())
		cut := func() float64 { return ask[float64](w.tab, `one("[data-in=cut]").valueAsNumber`) }
		w.do(`one("[data-in=cut]").focus()`)
		before := cut()
		w.press(kb.ArrowRight)
		Expect(cut()).To(Equal(before + 1))

		w.do(`one("[data-pane=a] .v-pic").scrollIntoView({block: "center"})`)
		from, to := w.place("[data-pane=a] .v-pic", 0.5, 0.5), w.place("[data-pane=a] .v-pic", 0.25, 0.5)
		w.mouse(input.DispatchMouseEventTypeMousePressed, from, 1)
		w.mouse(input.DispatchMouseEventTypeMouseMoved, to, 1)
		w.mouse(input.DispatchMouseEventTypeMouseReleased, to, 0)
		Eventually(cut).Should(BeNumerically("~", lamplighter.Width/4, 1))
		w.mouse(input.DispatchMouseEventTypeMouseMoved, from, 0)
		Expect(cut()).To(BeNumerically("~", lamplighter.Width/4, 1), "let go")

		// What is laid over shows from the divider on, to the page pixel.
		clip := ask[string](w.tab, `getComputedStyle(one(".v-over")).clipPath`)
		scale := ask[float64](w.tab, `one(".v-over").getBoundingClientRect().width / one(".v-over").width`)
		m := regexp.MustCompile(`([\d.]+)px\)$`).FindStringSubmatch(clip)
		Expect(m).NotTo(BeNil(), clip)
		left, _ := strconv.ParseFloat(m[1], 64)
		Expect(left / scale).To(Equal(cut()))
		Expect(ask[bool](w.tab, `(([a, b]) => a.left === b.left && a.top === b.top && a.width === b.width)([one("[data-pane=a] canvas"), one(".v-over")].map(e => e.getBoundingClientRect()))`)).To(BeTrue())
	})

	It("tells the place and the colours under the pointer, in pixels of the raster, at every scale", func() {
		x, y, a, b := differsAt()
		w := openViewer(desk)
		for _, scale := range []int{1, 3, 8} {
			w.do(fmt.Sprintf(`one("[data-in=scale]").value = "%d"; one("[data-in=scale]").dispatchEvent(new Event("change"))`, scale))
			Expect(ask[float64](w.tab, `one("[data-pane=a] canvas").getBoundingClientRect().width`)).To(BeEquivalentTo(scale * lamplighter.Width))
			Expect(ask[string](w.tab, `getComputedStyle(one("[data-pane=a] canvas")).imageRendering`)).To(Equal("pixelated"))
			w.do(fmt.Sprintf(`const s = one("[data-pane=a] .v-scroll"); s.scrollIntoView({block: "center"}); s.scrollLeft = %d - s.clientWidth / 2; s.scrollTop = %d - s.clientHeight / 2`, x*scale, y*scale))
			p := ask[[]float64](w.tab, fmt.Sprintf(`(r => [r.left + %g, r.top + %g])(one("[data-pane=a] canvas").getBoundingClientRect())`, (float64(x)+0.5)*float64(scale), (float64(y)+0.5)*float64(scale)))
			w.mouse(input.DispatchMouseEventTypeMouseMoved, []float64{1, 1}, 0)
			w.mouse(input.DispatchMouseEventTypeMouseMoved, p, 0)
			Eventually(func() string {
				return ask[string](w.tab, `[one("[data-in=x]").value, one("[data-in=y]").value, one(".v-colours").innerText].join(" ")`)
			}).Should(And(HavePrefix("%d %d ", x, y), ContainSubstring(a), ContainSubstring(b)), "scale %d", scale)
		}
	})

	It("is not made until its divergence is opened, and takes links to a view", func() {
		t := open(evening, desk)
		Expect(ask[int](t, `document.querySelectorAll(".viewer:not([hidden])").length`)).To(Equal(1))
		t.do(openAll)
		Eventually(func() int { return ask[int](t, `document.querySelectorAll(".viewer:not([hidden])").length`) }).Should(Equal(2))
		t.do(`window.v = document.querySelector(".viewer"); window.one = q => v.querySelector(q); location.hash = v.closest(".part").id + ":217:slide:2:64"`)
		w := viewer{t}
		w.shows(217)
		Expect(ask[string](t, "v.dataset.view")).To(Equal("slide"))
		Expect(ask[float64](t, `one("[data-in=cut]").valueAsNumber`)).To(BeEquivalentTo(64))
	})

	// WCAG 2.3.1: however fast the keys come, no more than three flashes, which are
	// six changes, in any second. The page counts its own drawings.
	It("does not flash when a key is held down", func() {
		w := openViewer(desk)
		w.press(kb.Home)
		w.do(`one(".v-stage").focus(); window.changes = []; new MutationObserver(() => changes.push(performance.now())).observe(v, {attributeFilter: ["data-frame"]})`)
		for range 40 {
			w.press(kb.ArrowRight)
		}
		w.shows(214 + windowAfter)
		times := ask[[]float64](w.tab, "changes")
		for i := range times {
			n := 0
			for _, t := range times[i:] {
				if t < times[i]+1000 {
					n++
				}
			}
			Expect(n).To(BeNumerically("<=", 6), "changes in the second after %g ms", times[i])
		}
	})

	for name, v := range map[string]view{"narrow": {w: 320, h: 700}, "dark": desk.with("prefers-color-scheme", "dark"), "magnified": {w: 420, h: 800}} {
		It("has its room and its contrast in each view: "+name, func() {
			w := openViewer(v)
			for _, how := range []string{"pair", "slide", "diff"} {
				w.click("input[value=" + how + "]")
				if name == "magnified" {
					w.do(`one("[data-in=scale]").value = "8"; one("[data-in=scale]").dispatchEvent(new Event("change"))`)
				}
				Expect(ask[[]string](w.tab, wide)).To(BeEmpty())
				Expect(ask[[]string](w.tab, faint)).To(BeEmpty())
				Expect(ask[[]string](w.tab, loose)).To(BeEmpty())
				Expect(ask[[]string](w.tab, tiny)).To(BeEmpty())
			}
			Expect(check(w.tab)).To(BeEmpty())
		})
	}

	It("is not on paper, where the still pictures are", func() {
		t := open(evening, view{w: 718, h: 1000, print: true})
		Expect(ask[int](t, `[...document.querySelectorAll(".viewer")].filter(e => e.checkVisibility()).length`)).To(BeZero())
		Expect(ask[int](t, `[...document.querySelectorAll(".part img")].filter(e => e.checkVisibility()).length`)).To(BeNumerically(">=", 8))
	})
})
