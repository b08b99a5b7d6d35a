package checks_test

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	stdpng "image/png"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/checks"
	"latchproof/specs"
	"latchproof/vision/screen"
)

// everyPicture is a spec in which every kind that reads a picture reads x.png.
const everyPicture = head + `  - {name: a, at: 1, shows: {template: x}}
  - {name: b, at: 1, hides: {template: x}}
  - {name: c, at: 1, reads: {glyphs: x, at: [0, 0], digits: 1}}
  - {name: d, at: 1, measure: {from: p, to: q}}
  - {name: e, at: 1, screen: {reference: x}}
points: {p: {template: x}, q: {template: x}}
timing: {from: {gone: x}, to: {shows: x}}
`

// pictureKeys are the places of the spec that name it.
var pictureKeys = []string{
	"checkpoints[0].shows.template", "checkpoints[1].hides.template", "checkpoints[2].reads.glyphs",
	"checkpoints[4].screen.reference", "points.p.template", "points.q.template", "timing.from.gone", "timing.to.shows",
}

// pngOf writes a picture of the library's own kinds as a PNG.
func pngOf(m image.Image) []byte {
	var b bytes.Buffer
	Expect(stdpng.Encode(&b, m)).To(Succeed())
	return b.Bytes()
}

// tones fills a picture with levels that differ.
func tones(m interface {
	Set(x, y int, c color.Color)
	Bounds() image.Rectangle
}) {
	b := m.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			m.Set(x, y, color.Gray{Y: byte(x*x*x/8 + y*13)})
		}
	}
}

// interlaced says of a PNG that it is interlaced (W3C PNG, third edition,
// section 11.2.1: byte 12 of the IHDR data) and mends its checksum, so that the
// data no longer fit.
func interlaced(src []byte) []byte {
	b := bytes.Clone(src)
	b[16+12] = 1
	binary.BigEndian.PutUint32(b[16+13:], crc32.ChecksumIEEE(b[12:16+13]))
	return b
}

var _ = Describe("hostile pictures", func() {
	whole := func() []byte { return png(scene(1)) }

	DescribeTable("are problems with the file's name, at every key that names one, in bounded memory", func(data func() []byte, want string) {
		f := newFolder()
		f.put("x.png", data())
		f.put("a.spec.yaml", []byte(everyPicture))
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, err := specs.Load(filepath.Join(string(f), "a.spec.yaml"), checks.All)
		runtime.ReadMemStats(&after)
		Expect(err).To(HaveOccurred())
		text := err.Error()
		for _, key := range pictureKeys {
			Expect(text).To(MatchRegexp(`a\.spec\.yaml:\d+:\d+: `+strings.NewReplacer("[", `\[`, "]", `\]`).Replace(key)+`: x\.png: .*(`+want+`)`), key)
		}
		Expect(after.TotalAlloc-before.TotalAlloc).To(BeNumerically("<", 128<<20), "bytes allocated in all, for eight readings")
	},
		Entry("truncated", func() []byte { b := whole(); return b[:len(b)*2/3] }, "not a usable PNG picture: png: invalid format"),
		Entry("header only", func() []byte { return whole()[:33] }, "not a usable PNG picture: unexpected EOF"),
		Entry("30,000 x 30,000", func() []byte { return header(30000, 30000) }, "30000x30000"),
		Entry("2^31-1 wide", func() []byte { return header(1<<31-1, 1) }, "2147483647x1|dimension overflow"),
		Entry("no size", func() []byte { return header(0, 0) }, "not a usable PNG picture"),
		Entry("wrong magic", func() []byte { b := whole(); b[1] = 'Q'; return b }, "not a usable PNG picture: png: invalid format: not a PNG file"),
		Entry("another format", func() []byte { return []byte("GIF89a\x01\x00\x01\x00") }, "not a usable PNG picture: png: invalid format: not a PNG file"),
		Entry("empty", func() []byte { return nil }, "not a usable PNG picture"),
		Entry("a wrong checksum", func() []byte { b := whole(); b[len(b)-20] ^= 1; return b }, "not a usable PNG picture: png: invalid format: invalid checksum|zlib: invalid checksum|flate"),
		Entry("called interlaced", func() []byte { return interlaced(whole()) }, "not a usable PNG picture: png: invalid format"),
		Entry("too many bytes", func() []byte { return append(whole(), make([]byte, 4<<20)...) }, "file too big: more than 4194304 bytes"),
	)

	It("of 16 bits, a palette, grey and with alpha are read like any other", func() {
		r := image.Rect(0, 0, 80, 8)
		sixteen, palette, grey, alpha := image.NewNRGBA64(r), image.NewPaletted(r, greys()), image.NewGray16(r), image.NewNRGBA(r)
		for _, m := range []interface {
			Set(x, y int, c color.Color)
			Bounds() image.Rectangle
			image.Image
		}{sixteen, palette, grey, alpha} {
			tones(m)
			f := newFolder()
			f.put("x.png", pngOf(m))
			c := f.good("shows: {template: x}")
			s := screen.New(256, 240)
			part := screen.FromImage(m)
			for y := range 8 {
				copy(s.Y[(50+y)*256+30:][:80], part.Y[y*80:])
			}
			sight, err := c.Look(s)
			Expect(err).NotTo(HaveOccurred())
			Expect(sight.Score).To(Equal(1.0))
			Expect(sight.At).To(Equal(image.Pt(30, 50)))
			f.good("reads: {glyphs: x, at: [0, 0], digits: 1}")
		}
	})

	It("that change at random never stop the program", func() {
		f := newFolder()
		f.put("a.spec.yaml", []byte(everyPicture))
		src := png(scene(1))
		r := rand.New(rand.NewPCG(1, 1))
		for range 50 {
			b := bytes.Clone(src[:100+r.IntN(len(src)-100)])
			for range 1 + r.IntN(8) {
				b[r.IntN(min(len(b), 200))] = byte(r.Uint32())
			}
			f.put("x.png", b)
			_, err := specs.Load(filepath.Join(string(f), "a.spec.yaml"), checks.All)
			Expect(err).To(HaveOccurred())
		}
	})
})

func greys() color.Palette {
	var p color.Palette
	for v := range 256 {
		p = append(p, color.Gray{Y: byte(v)})
	}
	return p
}

// FuzzPictures: whatever bytes stand in a picture, loading a spec that uses it
// for everything ends, with problems that name a place, or with checks that can
// look at a screen.
func FuzzPictures(f *testing.F) {
	RegisterTestingT(f)
	small := image.NewNRGBA(image.Rect(0, 0, 40, 8))
	tones(small)
	for _, b := range [][]byte{pngOf(small), interlaced(pngOf(small)), header(30000, 30000), header(256, 240), []byte("\x89PNG\r\n\x1a\n"), nil, png(scene(1))} {
		f.Add(b)
	}
	dir := f.TempDir()
	path := filepath.Join(dir, "a.spec.yaml")
	for name, text := range map[string]string{"a.spec.yaml": everyPicture, "a.prog": "program 1\nrest 10\n"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			f.Fatal(err)
		}
	}
	at := screen.New(256, 240)
	f.Fuzz(func(t *testing.T, b []byte) {
		if err := os.WriteFile(filepath.Join(dir, "x.png"), b, 0o600); err != nil {
			t.Fatal(err)
		}
		s, err := specs.Load(path, checks.All)
		if err != nil {
			for _, e := range err.(specs.ErrorList) {
				if e.Line < 1 || e.Problem == "" || e.Key == "" {
					t.Errorf("no place: %+v", e)
				}
			}
			return
		}
		for _, c := range s.Checkpoints {
			if _, err := c.Check.(checks.Check).Look(at); err != nil {
				t.Error(err)
			}
		}
	})
}
