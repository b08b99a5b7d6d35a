package screen_test

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/vision/screen"
)

func random(w, h int, seed uint64, colour bool) *screen.Screen {
	rng := rand.New(rand.NewPCG(seed, 0))
	s := screen.New(w, h)
	for i := range s.Y {
		s.Y[i] = byte(rng.Uint32())
		if colour {
			s.Cb[i], s.Cr[i] = byte(rng.Uint32()), byte(rng.Uint32())
		}
	}
	return s
}

var _ = Describe("a screen", func() {
	It("starts black and is copied deeply", func() {
		s := screen.New(3, 2)
		Expect(s.Luma()).To(Equal(screen.Luma{}))
		Expect(s.Cb).To(Equal(bytes.Repeat([]byte{128}, 6)))
		c := s.Clone()
		Expect(screen.Equal(s, c)).To(BeTrue())
		c.Y[5] = 1
		Expect(screen.Equal(s, c)).To(BeFalse())
		Expect(s.Y[5]).To(BeZero())
	})

	It("is equal only with the same size and the same three planes", func() {
		s := random(6, 4, 1, true)
		for _, plane := range []int{0, 1, 2} {
			c := s.Clone()
			[][]byte{c.Y, c.Cb, c.Cr}[plane][7]++
			Expect(screen.Equal(s, c)).To(BeFalse())
		}
		turned := s.Clone()
		turned.W, turned.H = 4, 6
		Expect(screen.Equal(s, turned)).To(BeFalse())
	})

	It("measures its luma", func() {
		s := screen.New(4, 2)
		copy(s.Y, []byte{9, 4, 5, 6, 7, 8, 3, 200})
		Expect(s.Luma()).To(Equal(screen.Luma{Min: 3, Max: 200, Mean: 242. / 8}))
		Expect((&screen.Screen{}).Luma()).To(Equal(screen.Luma{}))
	})

	It("is cropped inside its raster only", func() {
		s := random(9, 7, 2, true)
		r := image.Rect(2, 1, 9, 7)
		c, err := s.Crop(r)
		Expect(err).NotTo(HaveOccurred())
		for y := range c.H {
			for x := range c.W {
				from, to := (y+1)*9+x+2, y*7+x
				Expect([]byte{c.Y[to], c.Cb[to], c.Cr[to]}).To(Equal([]byte{s.Y[from], s.Cb[from], s.Cr[from]}))
			}
		}
		for _, r := range []image.Rectangle{{}, image.Rect(0, 0, 10, 7), image.Rect(-1, 0, 3, 3), image.Rect(4, 4, 4, 6)} {
			_, err := s.Crop(r)
			Expect(err).To(MatchError(screen.ErrOutside))
		}
	})

	It("comes from and goes to pictures of the standard library", func() {
		img := image.NewNRGBA(image.Rect(5, 6, 8, 8))
		img.SetNRGBA(6, 7, color.NRGBA{100, 150, 200, 255})
		s := screen.FromImage(img)
		Expect([]int{s.W, s.H}).To(Equal([]int{3, 2}))
		Expect(s.Y[1*3+1]).To(Equal(byte(141)))
		back := s.ToImage()
		Expect(back.Bounds()).To(Equal(image.Rect(0, 0, 3, 2)))
		Expect(back.RGBAAt(0, 0)).To(Equal(color.RGBA{0, 0, 0, 255}))
	})
})

var _ = Describe("a PNG", func() {
	It("keeps greys exactly", func() {
		s := random(31, 17, 3, false)
		var buf bytes.Buffer
		Expect(s.WritePNG(&buf)).To(Succeed())
		back, alpha, err := screen.ReadPNG(&buf)
		Expect(err).NotTo(HaveOccurred())
		Expect(alpha).To(BeNil())
		Expect(screen.Equal(s, back)).To(BeTrue())
	})

	It("gives alpha and the colour under it", func() {
		img := image.NewNRGBA(image.Rect(0, 0, 3, 1))
		img.SetNRGBA(0, 0, color.NRGBA{80, 80, 80, 255})
		img.SetNRGBA(1, 0, color.NRGBA{90, 90, 90, 127})
		var buf bytes.Buffer
		Expect(png.Encode(&buf, img)).To(Succeed())
		s, alpha, err := screen.ReadPNG(&buf)
		Expect(err).NotTo(HaveOccurred())
		Expect(alpha).To(Equal([]byte{255, 127, 0}))
		Expect(s.Y).To(Equal([]byte{80, 90, 0}))
	})

	It("may be grey, 16-bit or with a palette", func() {
		pal := image.NewPaletted(image.Rect(0, 0, 2, 1), color.Palette{color.NRGBA{7, 7, 7, 255}, color.NRGBA{0, 0, 0, 0}})
		pal.SetColorIndex(1, 0, 1)
		g := image.NewGray(image.Rect(0, 0, 2, 1))
		copy(g.Pix, []byte{7, 0})
		g16 := image.NewGray16(image.Rect(0, 0, 2, 1))
		g16.SetGray16(0, 0, color.Gray16{Y: 0x0707})
		for _, img := range []image.Image{pal, g, g16} {
			var buf bytes.Buffer
			Expect(png.Encode(&buf, img)).To(Succeed())
			s, _, err := screen.ReadPNG(&buf)
			Expect(err).NotTo(HaveOccurred())
			Expect(s.Y).To(Equal([]byte{7, 0}))
		}
	})

	It("goes to a file and back", func() {
		path := filepath.Join(GinkgoT().TempDir(), "s.png")
		_, _, err := screen.LoadPNG(path)
		Expect(err).To(MatchError(fs.ErrNotExist))
		s := random(8, 8, 4, false)
		Expect(s.SavePNG(path)).To(Succeed())
		back, _, err := screen.LoadPNG(path)
		Expect(err).NotTo(HaveOccurred())
		Expect(screen.Equal(s, back)).To(BeTrue())
		Expect(os.WriteFile(path, []byte("no picture"), 0o600)).To(Succeed())
		_, _, err = screen.LoadPNG(path)
		Expect(err).To(MatchError(screen.ErrPNG))
		Expect(err).To(MatchError(HavePrefix(path + ": not a usable PNG picture: ")))
		Expect(screen.New(0, 0).SavePNG(path)).NotTo(Succeed())
	})

	It("is refused when it is enormous, before it is decoded", func() {
		head := func(w, h uint32) []byte {
			chunk := []byte("IHDR")
			chunk = binary.BigEndian.AppendUint32(chunk, w)
			chunk = binary.BigEndian.AppendUint32(chunk, h)
			chunk = append(chunk, 8, 0, 0, 0, 0)
			out := append([]byte("\x89PNG\r\n\x1a\n\x00\x00\x00\x0d"), chunk...)
			return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(chunk))
		}
		_, _, err := screen.ReadPNG(bytes.NewReader(head(screen.MaxSide+1, 1)))
		Expect(err).To(MatchError("not a usable PNG picture: 8193x1 pixels, the limit is 8192 a side"))
		_, _, err = screen.ReadPNG(bytes.NewReader(head(screen.MaxSide, 1)))
		Expect(err).NotTo(MatchError(ContainSubstring("the limit")))
		Expect(err).To(MatchError(screen.ErrPNG)) // it has no pixels
	})

	It("with a hundred thousand chunks that say nothing costs what its pixels cost", func() {
		var buf bytes.Buffer
		want := random(20, 10, 3, true)
		Expect(want.WritePNG(&buf)).To(Succeed())
		text := binary.BigEndian.AppendUint32([]byte("\x00\x00\x00\x00tEXt"), crc32.ChecksumIEEE([]byte("tEXt")))
		src := slices.Concat(buf.Bytes()[:33], bytes.Repeat(text, 100_000), buf.Bytes()[33:])
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		back, _, err := screen.ReadPNG(bytes.NewReader(src))
		w, h, err2 := screen.SizePNG(src)
		runtime.ReadMemStats(&after)
		Expect(err).NotTo(HaveOccurred())
		Expect(err2).NotTo(HaveOccurred())
		Expect([]int{w, h}).To(Equal([]int{20, 10}))
		plain, _, err := screen.ReadPNG(&buf)
		Expect(err).NotTo(HaveOccurred())
		Expect(back).To(Equal(plain))
		Expect(after.TotalAlloc-before.TotalAlloc).To(BeNumerically("<", 32<<20), "bytes; 400 MB were taken for 1.2 MB of chunks")
	})
})

func FuzzReadPNG(f *testing.F) {
	var buf bytes.Buffer
	if err := random(5, 4, 5, true).WritePNG(&buf); err != nil {
		f.Fatal(err)
	}
	f.Add(buf.Bytes())
	f.Add([]byte("\x89PNG\r\n\x1a\n"))
	f.Fuzz(func(t *testing.T, src []byte) {
		if len(src) > 1<<16 {
			return
		}
		if cfg, err := png.DecodeConfig(bytes.NewReader(src)); err == nil && cfg.Width*cfg.Height > 1<<20 {
			return // allowed, but slow to try
		}
		s, alpha, err := screen.ReadPNG(bytes.NewReader(src))
		if err != nil {
			return
		}
		n := s.W * s.H
		if len(s.Y) != n || len(s.Cb) != n || len(s.Cr) != n || alpha != nil && len(alpha) != n {
			t.Fatalf("planes do not fit %dx%d", s.W, s.H)
		}
	})
}

func BenchmarkSetBGR(b *testing.B) {
	bgr := random(256, 240, 1, true).BGR(nil)
	s := screen.New(256, 240)
	b.SetBytes(int64(len(bgr)))
	for b.Loop() {
		s.SetBGR(256, 240, bgr)
	}
}
