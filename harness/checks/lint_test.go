package checks_test

import (
	"path/filepath"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/checks"
	"latchproof/specs"
	"latchproof/vision/screen"
)

var _ = Describe("warnings", func() {
	var f folder
	BeforeEach(func() { f = newFolder() })

	warn := func(spec string, pictures ...checks.Picture) []string {
		GinkgoHelper()
		f.put("a.spec.yaml", []byte(spec))
		s, err := specs.Load(filepath.Join(string(f), "a.spec.yaml"), checks.All)
		Expect(err).NotTo(HaveOccurred())
		lines := []string{}
		for _, w := range checks.Warnings(s, pictures) {
			lines = append(lines, strings.ReplaceAll(w.Error(), string(f)+"/", ""))
		}
		return lines
	}
	of := func(check string) string { return head + "  - {name: n, at: 1, " + check + "}\n" }

	It("are none for things that are like nothing else", func() {
		f.save("a.png", cropped16(1))
		f.save("b.png", cropped16(2))
		Expect(warn(head+"  - {name: n, at: 1, shows: {template: a}}\n  - {name: m, at: 1, hides: {template: b}}\n",
			checks.Picture{Name: "p", Screen: scene(9)})).To(BeEmpty())
	})

	It("tell of plain templates", func() {
		faint := cropped16(1)
		for i, v := range faint.Y {
			faint.Y[i] = 100 + v/16
		}
		f.save("a.png", faint)
		Expect(warn(of("shows: {template: a}"))).To(ConsistOf(
			MatchRegexp(`^a\.spec\.yaml:6:40: checkpoints\[0\]\.shows\.template: a\.png is plain: its contrast is 3\.\d levels, so that a noise of [56] levels hides it$`)))
	})

	It("tell of templates that noise imitates", func() {
		f.save("a.png", cropped(cropped16(1), rect(0, 0, 4, 4)))
		// scipy 1.10.1: 253*237*t.sf(0.9*sqrt(14/0.19), 14) = 0.0615
		Expect(warn(of("shows: {template: a}"))).To(ContainElement(HaveSuffix(
			"a.png has only 16 pixels that count: on a screen of noise alone it would be found with a chance of 0.061")))
		Expect(warn(of("shows: {template: a, near: [10, 10]}"))).To(BeEmpty())
	})

	It("tell of patterns that look like themselves elsewhere", func() {
		brick := screen.New(32, 16)
		for i := range brick.Y {
			brick.Y[i] = byte(30 + 15*(i%8) + 5*(i/32*(i/32)*7%13))
		}
		f.save("a.png", brick)
		Expect(warn(of("shows: {template: a}"))).To(Equal([]string{
			"a.spec.yaml:6:40: checkpoints[0].shows.template: a.png looks like itself (8, 0) pixels off: second best 1.000, margin -0.100; its place is not certain"}))
		Expect(warn(of("shows: {template: a, near: [10, 10], within: 4}"))).To(HaveLen(1))
		Expect(warn(of("shows: {template: a, near: [10, 10], within: 2}"))).To(BeEmpty())
	})

	It("tell of templates that fit one another, where they can meet", func() {
		big := screen.New(24, 24)
		for y := range 24 {
			copy(big.Y[y*24:][:24], scene(3).Y[y*256:])
		}
		f.save("big.png", big)
		f.save("part.png", cropped(big, rect(4, 6, 20, 22)))
		both := func(a, b string) string {
			return head + "  - {name: n, at: 1, shows: {template: big" + a + "}}\n  - {name: m, at: 1, shows: {template: part" + b + "}}\n"
		}
		Expect(warn(both("", ""))).To(Equal([]string{
			"a.spec.yaml:7:40: checkpoints[1].shows.template: part.png also fits big.png, (4, 6) pixels from its corner: second best 1.000, margin -0.100"}))
		Expect(warn(both(", near: [50, 50]", ", near: [54, 56]"))).To(HaveLen(1))
		Expect(warn(both(", near: [50, 50]", ", near: [58, 56]"))).To(BeEmpty())
	})

	It("tell of a second place on a picture, and of what is nearly there", func() {
		f.save("a.png", cropped16(1))
		pic := street(1)
		for y := range 16 {
			copy(pic.Y[(60+y)*256+40:][:16], cropped16(1).Y[y*16:])
			copy(pic.Y[(60+y)*256+140:][:16], cropped16(1).Y[y*16:])
		}
		Expect(warn(of("shows: {template: a}"), checks.Picture{Name: "run-001 frame 7", Screen: pic})).To(Equal([]string{
			"a.spec.yaml:6:40: checkpoints[0].shows.template: on run-001 frame 7, a.png scores 1.000 at (40, 60) and second best 1.000 at (140, 60), margin -0.100"}))
		Expect(warn(of("shows: {template: a, near: [40, 60], within: 9}"), checks.Picture{Name: "p", Screen: pic})).To(BeEmpty())
		Expect(warn(of("hides: {template: a, score: 1}"), checks.Picture{Name: "p", Screen: captured(pic, 1, 0, 4, seeded())})).To(ConsistOf(
			MatchRegexp(`: on p, a\.png must not be there and scores 0\.99\d at \(\d+, 60\), margin \+0\.00\d$`)))
	})

	It("tell of glyphs that are alike", func() {
		font := fixed("8x13")
		sheet := font.sheet("0123456789")
		f.save("hud.png", sheet)
		Expect(warn(of("reads: {glyphs: hud, at: [8, 8], digits: 2}"))).To(BeEmpty())
		for y := range 13 { // a 9 that is an 8 but for one pixel
			copy(sheet.Y[y*80+72:][:8], sheet.Y[y*80+64:])
		}
		sheet.Y[8*80+73] = 20
		f.save("hud.png", sheet)
		Expect(warn(of("reads: {glyphs: hud, at: [8, 8], digits: 2}"))).To(ConsistOf(
			MatchRegexp(`hud\.png: '8' and '9' look alike: they score 0\.9\d\d, margin -0\.0\d\d; in noise they will be unsure$`)))
	})

	It("tell of references and points too", func() {
		f.save("a.png", cropped16(1))
		f.save("flat.png", paper(256, 240, 80))
		smooth := screen.New(16, 16)
		for i := range smooth.Y {
			smooth.Y[i] = byte(40 + 8*(i%16) + 4*(i/16))
		}
		f.save("slope.png", smooth)
		Expect(warn(of("measure: {from: p, to: q}") + "  - {name: m, at: 1, screen: {reference: flat}}\npoints: {p: {template: a}, q: {template: slope}}\n")).To(ConsistOf(
			HaveSuffix("flat.png is plain: its luma differs by 0.0 levels only; `black` may say what is meant"),
			MatchRegexp(`points\.q\.template: slope\.png looks like itself \(-?\d, -?\d\) pixels off: second best 1\.000`)))
	})
})
