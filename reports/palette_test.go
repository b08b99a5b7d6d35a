package reports

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// luminance is the relative luminance of WCAG 2.2 (W3C Recommendation, its
// glossary entry of that name), of a colour #rrggbb.
func luminance(hex string) float64 {
	GinkgoHelper()
	n, err := strconv.ParseUint(strings.TrimPrefix(hex, "#"), 16, 24)
	Expect(err).NotTo(HaveOccurred(), hex)
	part := func(shift uint) float64 {
		c := float64(n>>shift&255) / 255
		if c <= 0.04045 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	return 0.2126*part(16) + 0.7152*part(8) + 0.0722*part(0)
}

// contrast is the contrast ratio of the same glossary.
func contrast(a, b string) float64 {
	la, lb := luminance(a), luminance(b)
	return (max(la, lb) + 0.05) / (min(la, lb) + 0.05)
}

// colours reads the custom properties out of a page: on paper, and what the
// dark changes.
func colours(page string) (light, dark map[string]string) {
	GinkgoHelper()
	const query = "@media screen and (prefers-color-scheme:dark){:root{"
	at := strings.Index(page, query)
	Expect(at).To(BeNumerically(">", 0))
	end := at + strings.Index(page[at:], "}}")
	read := func(css string) map[string]string {
		m := map[string]string{}
		for _, p := range regexp.MustCompile(`--([a-z0-9-]+):(#[0-9a-f]{6});`).FindAllStringSubmatch(css, -1) {
			m[p[1]] = p[2]
		}
		return m
	}
	return read(page[:at]), read(page[at:end])
}

var _ = Describe("the colours", func() {
	It("are measured by a formula that gives the ratios known for black, white and #767676", func() {
		// 21:1 is the range that WCAG 2.2 gives in its note on contrast ratio;
		// #767676 on white is the lightest grey that WCAG technique G18 passes.
		Expect(contrast("#000000", "#ffffff")).To(BeNumerically("~", 21, 1e-9))
		Expect(contrast("#767676", "#ffffff")).To(BeNumerically(">=", 4.5))
		Expect(contrast("#777777", "#ffffff")).To(BeNumerically("<", 4.5))
	})

	for _, mode := range []string{"light", "dark"} {
		It("of text stand out 4.5 to 1 and of shapes 3 to 1 (WCAG 2.2, 1.4.3 and 1.4.11), "+mode, func() {
			set, dark := colours(render(Session{}))
			if mode == "dark" {
				set = dark
			}
			Expect(set).To(HaveLen(len(palette)))
			for _, p := range textPairs {
				Expect(contrast(set[p.front], set[p.back])).To(BeNumerically(">=", 4.5), "%s on %s", p.front, p.back)
			}
			for _, p := range shapePairs {
				Expect(contrast(set[p.front], set[p.back])).To(BeNumerically(">=", 3), "%s on %s", p.front, p.back)
			}
		})
	}

	It("come from the palette, but for the outline on pictures", func() {
		hex := regexp.MustCompile(`#[0-9a-fA-F]{3,8}\b`).FindAllString(styleText, -1)
		slices.Sort(hex)
		Expect(slices.Compact(hex)).To(Equal([]string{"#000", "#ffd400", "#fff"}))
		Expect(contrast("#000000", "#ffd400")).To(BeNumerically(">=", 3), "one of the two shows on any picture")
		defined := map[string]bool{}
		for _, c := range palette {
			defined[c.name] = true
		}
		for _, p := range regexp.MustCompile(`--([a-z0-9-]+):`).FindAllStringSubmatch(styleText, -1) {
			defined[p[1]] = true
		}
		for _, p := range regexp.MustCompile(`var\(--([a-z0-9-]+)`).FindAllStringSubmatch(styleText+pageText+sureText, -1) {
			if !defined[p[1]] && !slices.Contains([]string{"w", "h", "s", "z", "cut"}, p[1]) {
				Fail(fmt.Sprintf("no colour is named %s", p[1]))
			}
		}
	})

	It("of text are all measured on the grounds they are used on", func() {
		measured := map[string]bool{}
		for _, p := range textPairs {
			measured[p.front] = true
		}
		for _, p := range regexp.MustCompile(`[;{]color:var\(--([a-z0-9-]+)\)`).FindAllStringSubmatch(styleText, -1) {
			if p[1] != "tone" && p[1] != "fam" { // yes, no, unknown and f1 to f4, which are
				Expect(measured).To(HaveKey(p[1]))
			}
		}
	})
})
