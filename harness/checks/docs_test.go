package checks_test

import (
	"image"
	"os"
	"path/filepath"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/checks"
	"latchproof/specs"
)

// examples are the specs that stand in a Go doc comment: indented blocks that
// begin with the version.
func examples(file string) []string {
	src, err := os.ReadFile(file)
	Expect(err).NotTo(HaveOccurred())
	var all []string
	var block strings.Builder
	end := func() {
		if strings.HasPrefix(block.String(), "version: ") {
			all = append(all, block.String())
		}
		block.Reset()
	}
	for _, line := range strings.Split(string(src), "\n") {
		if text, ok := strings.CutPrefix(line, "//\t"); ok {
			block.WriteString(text + "\n")
		} else {
			end()
		}
	}
	end()
	return all
}

var _ = Describe("the documentation", func() {
	It("has examples that are valid specs", func() {
		s, err := compile()
		Expect(err).NotTo(HaveOccurred())
		found := examples("../../specs/doc.go")
		Expect(found).To(HaveLen(1))
		for _, src := range found {
			_, err := specs.Parse("doc", []byte(src), checks.All)
			Expect(err).NotTo(HaveOccurred())
			Expect(accepts(s, src)).To(Succeed())
		}
	})

	It("has an example that loads with its program and templates", func() {
		f := newFolder()
		f.put("first-lamp.prog", []byte("program 1\nrest 62\nmark jump\nhold a for 200\n"))
		tpl := scene(1)
		for _, name := range []string{"gate", "lamplighter-idle", "lamplighter-jump", "lamp-lit", "garbage-tile", "cart", "start-banner", "tower-bell"} {
			small, err := tpl.Crop(image.Rect(0, 0, 16, 16))
			Expect(err).NotTo(HaveOccurred())
			f.save(name+".png", small)
		}
		sheet, err := tpl.Crop(image.Rect(0, 0, 80, 8))
		Expect(err).NotTo(HaveOccurred())
		f.save("hud-digits.png", sheet)
		f.save("street.png", tpl)
		src := examples("../../specs/doc.go")[0]
		f.put("a.spec.yaml", []byte(src))
		s, err := specs.Load(filepath.Join(string(f), "a.spec.yaml"), checks.All)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Files()).To(Equal([]string{"cart.png", "first-lamp.prog", "garbage-tile.png", "gate.png", "hud-digits.png", "lamp-lit.png",
			"lamplighter-idle.png", "lamplighter-jump.png", "start-banner.png", "street.png", "tower-bell.png"}))
		Expect(s.LastFrame()).To(BeEquivalentTo(402)) // jump+340
	})

	It("lists every key of a spec and of the kinds", func() {
		text, err := os.ReadFile("../../specs/doc.go")
		Expect(err).NotTo(HaveOccurred())
		for _, key := range []string{"version", "spec", "about", "program", "console", "start", "repeats", "timeout", "max_reads", "tail", "labels", "anchor", "checkpoints", "points", "timing", "lockstep", "name", "at", "every", "unseen"} {
			Expect(string(text)).To(MatchRegexp(`(?m)^//\t` + key + ` +\S`))
		}
		text, err = os.ReadFile("doc.go")
		Expect(err).NotTo(HaveOccurred())
		for _, key := range []string{"template", "near", "within", "score", "level", "glyphs", "digits", "characters", "cell", "pitch", "equals", "at_least", "at_most", "tolerance", "from", "to", "reference", "ignore", "for"} {
			Expect(string(text)).To(MatchRegexp(`(?m)^//\t` + key + ` +\S`))
		}
		for _, kind := range checks.All {
			Expect(string(text)).To(MatchRegexp(`(?m)^//\t` + kind.Key() + ` +\S`))
		}
	})
})
