package reports

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"golang.org/x/net/html"
)

// scripts gives the contents of the script elements of a page by their type.
func scripts(page string) (program, data []string) {
	GinkgoHelper()
	root, err := html.Parse(strings.NewReader(page))
	Expect(err).NotTo(HaveOccurred())
	for n := range root.Descendants() {
		if n.Type != html.ElementNode || n.Data != "script" {
			continue
		}
		text := ""
		if n.FirstChild != nil {
			text = n.FirstChild.Data
		}
		switch {
		case len(n.Attr) == 0:
			program = append(program, text)
		case len(n.Attr) == 1 && n.Attr[0].Key == "type" && n.Attr[0].Val == "application/json":
			data = append(data, text)
		default:
			Fail(fmt.Sprint("a script with ", n.Attr))
		}
	}
	return program, data
}

// expectOneScript asserts that a page has no script but its own, once, that its
// policy allows that one by its hash alone, and that its data are data.
func expectOneScript(page string) {
	GinkgoHelper()
	programs, data := scripts(page)
	Expect(len(programs)).To(BeNumerically("<=", 1))
	for _, p := range programs {
		Expect(p).To(Equal(scriptText))
	}
	if len(data) > 0 {
		Expect(programs).To(HaveLen(1))
	}
	for _, d := range data {
		Expect(json.Valid([]byte(d))).To(BeTrue())
		Expect(d).NotTo(MatchRegexp("[<>&\u2028\u2029]"))
	}
	sum := sha256.Sum256([]byte(scriptText))
	Expect(page[:strings.Index(page, "<style>")]).To(ContainSubstring(
		`<meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src 'sha256-` +
			base64.StdEncoding.EncodeToString(sum[:]) + `'; base-uri 'none'; form-action 'none'">`))
}

func windowsOf(page string) (out []windowData) {
	GinkgoHelper()
	_, data := scripts(page)
	for _, d := range data {
		var w windowData
		Expect(json.Unmarshal([]byte(d), &w)).To(Succeed())
		out = append(out, w)
	}
	return out
}

func pngOf(w, h int, at func(x, y int) color.RGBA) *Picture {
	GinkgoHelper()
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			m.SetRGBA(x, y, at(x, y))
		}
	}
	var b bytes.Buffer
	Expect(png.Encode(&b, m)).To(Succeed())
	return &Picture{Data: b.Bytes(), Type: "image/png", Alt: "a"}
}

// noise is a picture that packs badly.
func noise(seed uint64, w, h int) *Picture {
	r := rand.New(rand.NewPCG(seed, 2))
	return pngOf(w, h, func(int, int) color.RGBA {
		return color.RGBA{byte(r.Uint32()), byte(r.Uint32()), byte(r.Uint32()), 255}
	})
}

func grey8(v byte) func(int, int) color.RGBA {
	return func(int, int) color.RGBA { return color.RGBA{v, v, v, 255} }
}

var _ = Describe("the script", func() {
	It("is of its own, asks for nothing and makes no program of text", func() {
		for _, banned := range []string{"</", "eval", "Function(", "innerHTML", "outerHTML", "insertAdjacent", "document.write", "fetch(", "XMLHttp", "WebSocket",
			"import", "localStorage", "cookie", "http:", "https:", "\r", "setInterval", "requestAnimationFrame", ".animate("} {
			Expect(scriptText).NotTo(ContainSubstring(banned))
		}
	})
	It("is left out where there is nothing to step through", func() {
		programs, data := scripts(render(sampleHeld()))
		Expect(programs).To(BeEmpty())
		Expect(data).To(BeEmpty())
	})
})

var _ = Describe("a window", func() {
	It("carries the pictures of both runs, what was read, and what is known of each frame", func() {
		page := render(samplePicture())
		ws := windowsOf(page)
		Expect(ws).To(HaveLen(1))
		w := ws[0]
		Expect([]int{w.W, w.H, w.Start, len(w.Frames)}).To(Equal([]int{256, 240, 3, 8}))
		want := samplePicture().Specs[0].Divergences[0]
		Expect(w.Box).To(Equal(want.Region))
		var words []string
		for i, f := range w.Frames {
			words = append(words, f.Verdict)
			for _, s := range []struct {
				got  sideOfData
				want WindowSide
			}{{f.A, want.Window.Frames[i].A}, {f.B, want.Window.Frames[i].B}} {
				if s.want.Picture == nil {
					Expect(s.got.Src).To(BeEmpty())
					Expect(s.got.Unseen).To(Equal(s.want.Unseen))
					continue
				}
				Expect(s.got.Src).To(Equal("data:image/png;base64," + base64.StdEncoding.EncodeToString(s.want.Picture.Data)))
				Expect(s.got.Program).To(Equal("line 41: hold right+b for 130"))
			}
		}
		Expect(words).To(Equal([]string{
			"before the runs part", "before the runs part", "before the runs part", "the first frame known to differ",
			"after the runs parted", "unseen in hasty-3", "after the runs parted", "after the runs parted",
		}))
		Expect(w.Frames[5].Differ).To(BeTrue(), "a read and no read")
		Expect(w.Level).To(Equal(leastLevel), "the frames before are equal to the last bit")
		Expect(page).To(ContainSubstring("Colours are exact."))
		// Without the script the still pictures are there and the viewer is not.
		Expect(page).To(MatchRegexp(`<div class="viewer"[^>]* hidden>`))
		Expect(strings.Count(page, `alt="hasty-1 at frame 525`)).To(Equal(1))
	})

	It("says of frames between the last equal one and the first that differs that they are not known", func() {
		d := Divergence{A: "a", B: "b", Since: 5, Frame: 7}
		p := &Picture{}
		for f, want := range map[int64]string{4: "before the runs part", 5: "not known to be equal", 6: "not known to be equal", 7: "the first frame known to differ", 8: "after the runs parted"} {
			words, _ := frameWords(d, WindowFrame{Frame: f, A: WindowSide{Picture: p}, B: WindowSide{Picture: p}})
			Expect(words).To(Equal(want))
		}
		words, tone := frameWords(d, WindowFrame{Frame: 7})
		Expect(words + tone).To(Equal("unseen in both runsunknown"))
		words, _ = frameWords(d, WindowFrame{Frame: 7, B: WindowSide{Picture: p}})
		Expect(words).To(Equal("unseen in a"))
	})

	DescribeTable("keeps hostile text inside its data",
		func(hostile, shown string) {
			s := samplePicture()
			d := &s.Specs[0].Divergences[0]
			d.A, d.B = hostile+"A", hostile+"B"
			for i := range d.Window.Frames {
				for _, side := range []*WindowSide{&d.Window.Frames[i].A, &d.Window.Frames[i].B} {
					side.Reads, side.LineText, side.Mark, side.Unseen = hostile, hostile, hostile, hostile
				}
				if p := d.Window.Frames[i].A.Picture; p != nil {
					q := *p
					q.Alt, q.Type = hostile, hostile
					d.Window.Frames[i].A.Picture = &q
				}
			}
			page := render(s)
			expectQuiet(page)
			w := windowsOf(page)[0]
			Expect(w.Frames[0].A.Reads).To(Equal(shown))
			Expect(w.Frames[0].A.Program).To(Equal("line 41: " + shown))
			Expect(w.Frames[0].A.Mark).To(Equal(shown))
			Expect(w.Frames[0].A.Alt).To(Equal(shown))
			Expect(w.Frames[5].B.Unseen).To(Equal(shown))
			Expect(w.Frames[5].Verdict).To(Equal("unseen in " + shown + "B"))
		},
		Entry("the end of the script", `</script><script>alert(1)</script>`, `</script><script>alert(1)</script>`),
		Entry("a comment and a script", `<!--<script>`, `<!--<script>`),
		Entry("the end of a string", `","a":{"src":"x`, `","a":{"src":"x`),
		Entry("a backslash", `\`, `\`),
		Entry("entities", `&quot;&lt;`, `&quot;&lt;`),
		Entry("separators of lines that end a line of a script", "a\u2028b\u2029c", "a\u2028b\u2029c"),
		Entry("marks that turn the reading order", "a\u202eb", "a[U+202E]b"),
		Entry("a null", "a\x00b", "a[U+0000]b"),
	)

	It("is left out where no picture can be shown, and shows no picture of another size or kind", func() {
		d := Divergence{A: "a", B: "b", Frame: 1, Window: &Window{Frames: []WindowFrame{
			{Frame: 0, A: WindowSide{Picture: &Picture{Data: []byte("<svg/>")}}}, {Frame: 1},
		}}}
		v, used := buildWindow("x", d, maxWindow)
		Expect(v).To(BeNil())
		Expect(used).To(BeZero())
		d.Window.Frames = []WindowFrame{
			{Frame: 0, A: WindowSide{Picture: pngOf(16, 8, grey8(1))}, B: WindowSide{Picture: pngOf(8, 16, grey8(1))}},
			{Frame: 1, A: WindowSide{Picture: pngOf(16, 8, grey8(1))}, B: WindowSide{Picture: &Picture{Data: []byte("GIF89a")}}},
		}
		v, _ = buildWindow("x", d, maxWindow)
		Expect(v.Data.Frames[0].B).To(Equal(sideOfData{Unseen: "its picture could not be read"}))
		Expect(v.Data.Frames[1].B).To(Equal(sideOfData{Unseen: "its picture could not be read"}))
		Expect(v.Data.Frames[1].A.Src).To(HavePrefix("data:image/png;base64,"))
		Expect(d.Window.Frames[0].B.Picture).NotTo(BeNil(), "the session stays as it is")
	})
})

var _ = Describe("what fits", func() {
	window := func(n int) *Window {
		w := &Window{}
		for i := range n {
			w.Frames = append(w.Frames, WindowFrame{Frame: int64(i), A: WindowSide{Picture: noise(uint64(2*i), 32, 32)}, B: WindowSide{Picture: noise(uint64(2*i+1), 32, 32)}})
		}
		return w
	}

	It("rounds colours by at most half a step and moves no edge", func() {
		p := noise(1, 40, 24)
		for _, step := range roundings {
			a, b := flat(decoded(p)), flat(decoded(rounded(p, step)))
			worst := 0
			for i := range a.Pix {
				worst = max(worst, int(a.Pix[i])-int(b.Pix[i]), int(b.Pix[i])-int(a.Pix[i]))
			}
			Expect(worst).To(BeNumerically("<=", step/2))
			if step > 1 {
				Expect(worst).To(BeNumerically(">", 0))
				Expect(len(rounded(p, step).Data)).To(BeNumerically("<", len(p.Data)))
			}
		}
		Expect(rounded(&Picture{Data: []byte("no")}, 8)).To(BeNil())
		Expect(rounded(nil, 8)).To(BeNil())
	})

	It("is exact when there is room, then rounded, then fewer frames around the divergence", func() {
		d := Divergence{Frame: 8, Since: 8, Window: window(12)}
		all := 0
		for _, f := range d.Window.Frames {
			all += weight(f)
		}
		v, used := buildWindow("x", d, all)
		Expect(used).To(Equal(all))
		Expect(v.Rounded).To(BeEmpty())

		v, used = buildWindow("x", d, all*9/10)
		Expect(used).To(BeNumerically("<=", all*9/10))
		Expect(v.Data.Frames).To(HaveLen(12))
		Expect(v.Rounded).To(MatchRegexp(`at most [248] of 255 off`))

		v, used = buildWindow("x", d, all/4)
		Expect(used).To(BeNumerically("<=", all/4))
		Expect(len(v.Data.Frames)).To(BeNumerically("<", 8))
		Expect(v.Data.Frames[v.Start].Frame).To(BeEquivalentTo(8))
		first, last := v.Data.Frames[0].Frame, v.Data.Frames[len(v.Data.Frames)-1].Frame
		Expect(first).To(BeNumerically(">=", 5))
		Expect(last-first).To(BeEquivalentTo(len(v.Data.Frames)-1), "no gap")
		Expect(v.Rounded).To(ContainSubstring("at most 8 of 255 off"))

		v, used = buildWindow("x", d, 100)
		Expect(v).To(BeNil())
		Expect(used).To(BeZero())
	})

	It("says that pictures kept as JPEG are not exact", func() {
		j := &Picture{Data: noisyJPEG(tracesOf[0]()[100], 3), Type: "image/jpeg"}
		d := Divergence{Frame: 1, Window: &Window{Frames: []WindowFrame{{Frame: 0, A: WindowSide{Picture: j}}, {Frame: 1, B: WindowSide{Picture: j}}}}}
		v, _ := buildWindow("x", d, maxWindow)
		Expect(v.Rounded).To(ContainSubstring("kept as JPEG"))
		Expect(v.Data.Frames[0].A.Src).To(HavePrefix("data:image/jpeg;base64,"))
	})

	It("gives the first divergence of every spec the largest share, and all together no more than a page may", func() {
		var specs []Spec
		var parts [][]*partView
		for range 3 {
			s := Spec{}
			var ps []*partView
			for range 4 {
				s.Divergences = append(s.Divergences, Divergence{Frame: 1, Window: window(3)})
				ps = append(ps, &partView{ID: "x"})
			}
			specs, parts = append(specs, s), append(parts, ps)
		}
		addWindows(specs, parts)
		for _, ps := range parts {
			for _, p := range ps {
				Expect(p.Window.Data.Frames).To(HaveLen(3))
			}
		}
	})
})

var _ = Describe("the level of an outline", func() {
	It("is half more than the most in the frames before, in the mean of a block of 8 by 8", func() {
		a := pngOf(20, 12, grey8(100))
		b := pngOf(20, 12, func(x, y int) color.RGBA {
			switch {
			case x == 0 && y == 0:
				return color.RGBA{100, 228, 100, 255} // 128 in one of 64 pixels: 2 in the mean
			case x >= 16 && y >= 8:
				return color.RGBA{104, 100, 97, 255} // 4 in all of a block that the edge cuts
			}
			return color.RGBA{100, 100, 100, 255}
		})
		d, ok := mostApart(flat(decoded(a)), flat(decoded(b)))
		Expect(ok).To(BeTrue())
		Expect(d).To(Equal(4.0))
		frames := []WindowFrame{
			{Frame: 1, A: WindowSide{Picture: a}, B: WindowSide{Picture: b}},
			{Frame: 2, A: WindowSide{Picture: a}, B: WindowSide{Picture: pngOf(20, 12, grey8(200))}},
		}
		Expect(level(frames, 2)).To(Equal(6.0))
		Expect(level(frames, 3)).To(Equal(6.0), "one of two is torn")
		Expect(level(frames, 1)).To(Equal(blindLevel))
		Expect(level(frames[:0], 1)).To(Equal(blindLevel))
		_, ok = mostApart(flat(decoded(a)), flat(decoded(pngOf(8, 8, grey8(0)))))
		Expect(ok).To(BeFalse())
	})
})

var _ = Describe("the tree of families", func() {
	It("nests families below the one they parted from, by frame", func() {
		top := familyTree([]Family{{Parent: -1}, {Parent: 0, From: 50}, {Parent: 1, From: 60}, {Parent: 0, From: 20}, {Parent: 7}, {Parent: 5}})
		var tell func(vs []*familyView) string
		tell = func(vs []*familyView) string {
			var out []string
			for _, v := range vs {
				s := v.Name
				if len(v.Children) > 0 {
					s += "(" + tell(v.Children) + ")"
				}
				out = append(out, s)
			}
			return strings.Join(out, " ")
		}
		Expect(tell(top)).To(Equal("F1(F4 F2(F3)) F5 F6"))
		page := render(sampleThree())
		Expect(page).To(MatchRegexp(`(?s)fam-tag f1">F1</b>.*<ul>\s*<li><div class="family"><b class="fam-tag f2">F2</b> <div><b>Parted at frame 214</b> from F1 \(<bdi>input</bdi>\): <bdi>read 202 of hasty-4 was missed</bdi>`))
	})

	It("is not nested without end", func() {
		var all []Family
		for i := range 400 {
			all = append(all, Family{Parent: i - 1, From: int64(i)})
		}
		page := render(Session{Specs: []Spec{{Lockstep: Lockstep{Families: all}}}})
		expectQuiet(page)
		Expect(strings.Count(page, `class="family"`)).To(Equal(400))
		depth, deepestSeen := 0, 0
		for _, m := range regexp.MustCompile(`</?ul`).FindAllString(page, -1) {
			if m == "<ul" {
				depth++
			} else {
				depth--
			}
			deepestSeen = max(deepestSeen, depth)
		}
		Expect(deepestSeen).To(BeNumerically("<=", deepest+2))
	})
})

var _ = Describe("a page of a hundred repeats of ten minutes", func() {
	It("stays below 15 MB, however little the pictures pack", func() {
		if testing.Short() {
			Skip("hundreds of pictures are packed")
		}
		page := render(sampleHundred())
		Expect(len(page)).To(BeNumerically("<", 15_000_000))
		Expect(len(page)).To(BeNumerically(">", 5_000_000), "the bounds are tried")
		ws := windowsOf(page)
		Expect(ws).NotTo(BeEmpty())
		Expect(slices.IndexFunc(ws[0].Frames, func(f frameOfData) bool { return f.Frame == 900 })).To(BeNumerically(">=", 0))
	})
})
