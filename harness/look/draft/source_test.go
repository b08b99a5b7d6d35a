package draft_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"go.yaml.in/yaml/v3"

	"latchproof/harness/checks"
	"latchproof/harness/look/draft"
	"latchproof/specs"
)

var _ = Describe("the text of a draft", func() {
	It("is a sound spec whatever things are called", func() {
		for _, name := range []string{"walk", "true", "null", "No", "été", "a-b", "x: #y", `q"uote`, "sp ace"} {
			dir := GinkgoT().TempDir()
			o := draft.Options{
				Name: name, Prefix: "walk", ProgramFile: "my prog.prog", Console: "ntsc-8bit", Start: specs.StartReset,
				From: "the run evil\nversion: 2\r# \u0085x\u2029y\xff",
			}
			mark := "null"
			d := draft.MadeDraft(o, name, specs.Moment{Mark: mark, Offset: 2}, textured(16, 16, 3))
			d.Left = []string{"something\nspec: other"}
			Expect(os.WriteFile(filepath.Join(dir, "my prog.prog"), []byte("program 1\nmark null\nrest 60\n"), 0o666)).To(Succeed())
			files, err := d.Templates()
			Expect(err).NotTo(HaveOccurred())
			for file, src := range files {
				if strings.ContainsAny(name, `:"`) {
					file = "walk-x.png" // a file's name that no mark has; only the text is looked at
				}
				Expect(os.WriteFile(filepath.Join(dir, file), src, 0o666)).To(Succeed())
			}
			src := d.Source()
			var any map[string]any
			Expect(yaml.Unmarshal(src, &any)).To(Succeed(), string(src))
			Expect(any["spec"]).To(Equal(name))
			Expect(any["version"]).To(Equal(1))
			if strings.ContainsAny(name, `:"`) {
				continue
			}
			path := filepath.Join(dir, "s.spec.yaml")
			Expect(os.WriteFile(path, src, 0o666)).To(Succeed())
			s, err := specs.Load(path, checks.All)
			Expect(err).NotTo(HaveOccurred(), string(src))
			Expect(s.Name).To(Equal(name))
			Expect(s.Checkpoints[0].At.String()).To(Equal("null+2"))
		}
	})
})

var _ = Describe("the names of templates", func() {
	It("are all different, and short enough for any file system", func() {
		long := strings.Repeat("\U00020000", 64) // a letter of four bytes
		names := draft.FileNames("walk", "anchor", "anchor", "Jump", "jump", long, long+"x")
		Expect(names[:4]).To(Equal([]string{"walk-anchor", "walk-anchor-2", "walk-Jump", "walk-jump-2"}))
		Expect(names[4]).NotTo(Equal(names[5]))
		for _, n := range names {
			Expect(len(n)).To(BeNumerically("<", 130))
			Expect(utf8.ValidString(n)).To(BeTrue())
		}
	})
})

// FuzzScalar: what is written as a scalar is read as the same string, and nothing
// in a comment ends its line.
func FuzzScalar(f *testing.F) {
	for _, s := range []string{"walk", "true", "~", "1e3", "a: b", "# no", "é\u2028\x00\x7f\u0085", "- x", "\ufeff", "=", "<<", "0x1F", "on", ".inf"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		src := "# " + draft.OneLine(s) + "\nkey: " + draft.Scalar(s) + "\n"
		var got map[string]any
		if err := yaml.Unmarshal([]byte(src), &got); err != nil {
			t.Fatalf("%q: %v", src, err)
		}
		if want := strings.ToValidUTF8(s, "?"); got["key"] != any(want) || len(got) != 1 {
			t.Fatalf("%q is read as %#v", src, got)
		}
	})
}
