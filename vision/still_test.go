package vision_test

import (
	"bytes"
	"image"
	"math/rand/v2"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/vision"
	"latchproof/vision/screen"
)

var _ = Describe("pictures that come one by one", func() {
	random := func(n int) []byte {
		rng := rand.New(rand.NewPCG(8, uint64(n)))
		b := make([]byte, n)
		for i := range b {
			b[i] = byte(rng.Uint32())
		}
		return b
	}
	still := func(f vision.RawFormat, w, h int) *vision.Still {
		GinkgoHelper()
		s, err := vision.NewStill(f, image.Pt(w, h))
		Expect(err).NotTo(HaveOccurred())
		DeferCleanup(s.Close)
		return s
	}

	It("of Motion JPEG are those of a file with the same bytes", func() {
		img := imageOf(32, 16, random(3*32*16))
		defer img.Close()
		jpeg, err := img.JPEG(90)
		Expect(err).NotTo(HaveOccurred())
		Expect(vision.JPEGSize(jpeg)).To(Equal(image.Pt(32, 16)))
		path := filepath.Join(GinkgoT().TempDir(), "v.mkv")
		r, err := vision.CreateVideo(path, vision.MJPEG, 32, 16, 60)
		Expect(err).NotTo(HaveOccurred())
		Expect(r.WriteCodedAt(jpeg, 0)).To(Succeed())
		Expect(r.WriteCodedAt(nil, 1)).To(MatchError(vision.ErrNoPicture))
		Expect(r.WriteRawAt(jpeg, vision.RawYUYV, 1)).To(MatchError(vision.ErrNotWritten))
		Expect(r.Close()).To(Succeed())
		v, err := vision.OpenVideo(path)
		Expect(err).NotTo(HaveOccurred())
		defer v.Close()
		var a, b vision.Picture
		defer a.Close()
		defer b.Close()
		Expect(v.Read(&a)).To(Succeed())
		s := still(vision.RawMJPEG, 32, 16)
		for i := range 3 {
			s.Decode(jpeg, &b)
			Expect(b.Damaged()).To(BeFalse())
			Expect(b.Index()).To(Equal(i))
			Expect(b.Same(&a)).To(BeTrue())
		}
		// Cut short, of another size, and none at all: damaged, and the next is
		// sound.
		small := imageOf(16, 16, random(3*16*16))
		defer small.Close()
		other, err := small.JPEG(90)
		Expect(err).NotTo(HaveOccurred())
		for _, bad := range [][]byte{jpeg[:len(jpeg)/2], other, nil, []byte("text")} {
			s.Decode(bad, &b)
			Expect(b.Damaged()).To(BeTrue())
			s.Decode(jpeg, &b)
			Expect(b.Damaged()).To(BeFalse())
		}
		Expect(still(vision.RawMJPEG, 16, 16)).NotTo(BeNil())
	})

	It("of Motion JPEG may leave the usual tables out, and have padding behind", func() {
		// Recommendation ITU-T T.81, annex K.3, has the tables; cards that leave them
		// out follow the AVI form of Motion JPEG (common practice, no source).
		img := imageOf(32, 16, random(3*32*16))
		defer img.Close()
		jpeg, err := img.JPEG(90)
		Expect(err).NotTo(HaveOccurred())
		bare := append([]byte(nil), jpeg[:2]...)
		for at := 2; ; {
			Expect(jpeg[at]).To(BeEquivalentTo(0xff))
			n := 2 + int(jpeg[at+2])<<8 + int(jpeg[at+3])
			if jpeg[at+1] == 0xda {
				bare = append(bare, jpeg[at:]...)
				break
			}
			if jpeg[at+1] != 0xc4 {
				bare = append(bare, jpeg[at:at+n]...)
			}
			at += n
		}
		Expect(len(jpeg)-len(bare)).To(BeNumerically(">", 400), "the tables")
		var a, b vision.Picture
		defer a.Close()
		defer b.Close()
		still(vision.RawMJPEG, 32, 16).Decode(jpeg, &a)
		s := still(vision.RawMJPEG, 32, 16)
		for _, other := range [][]byte{bare, append(bytes.Clone(jpeg), make([]byte, 300)...), append(bytes.Clone(bare), 0xff, 0xff, 0)} {
			Expect(vision.JPEGSize(other)).To(Equal(image.Pt(32, 16)))
			s.Decode(other, &b)
			Expect(b.Damaged()).To(BeFalse())
			Expect(b.Same(&a)).To(BeTrue())
		}
	})

	It("that are not coded keep their samples, also in FFV1", func() {
		for _, f := range []struct {
			raw    vision.RawFormat
			chroma vision.Chroma
			n      int
		}{{vision.RawYUYV, vision.Chroma422, 2 * 32 * 16}, {vision.RawNV12, vision.Chroma420, 32 * 16 * 3 / 2}} {
			Expect(f.raw.Bytes(image.Pt(32, 16))).To(Equal(f.n))
			data := random(f.n)
			s := still(f.raw, 32, 16)
			var p, q vision.Picture
			defer p.Close()
			defer q.Close()
			s.Decode(data, &p)
			Expect(p.Damaged()).To(BeFalse())
			Expect(vision.PlanesOf(&p)).To(Equal(data))
			s.Decode(data[1:], &q)
			Expect(q.Damaged()).To(BeTrue())
			Expect(q.Empty()).To(BeTrue())

			path := filepath.Join(GinkgoT().TempDir(), "v.mkv")
			r, err := vision.CreateVideoWith(path, vision.RecordOptions{Codec: vision.FFV1, Chroma: f.chroma, Fast: true}, 32, 16, 60)
			Expect(err).NotTo(HaveOccurred())
			Expect(r.WriteRawAt(data, f.raw, 0)).To(Succeed())
			Expect(r.WriteRawAt(data[1:], f.raw, 20e6)).To(MatchError(vision.ErrSize))
			Expect(r.WriteCodedAt(data, 20e6)).To(MatchError(vision.ErrNotJPEG))
			Expect(r.Close()).To(Succeed())
			v, err := vision.OpenVideo(path)
			Expect(err).NotTo(HaveOccurred())
			Expect(v.Read(&q)).To(Succeed())
			Expect(v.Close()).To(Succeed())
			planes := vision.PlanesOf(&q)
			Expect(planes).To(HaveLen(f.n))
			for i, y := range planes[:32*16] {
				want := data[i]
				if f.raw == vision.RawYUYV {
					want = data[2*i]
				}
				Expect(y).To(Equal(want))
			}
			chroma := planes[32*16:]
			for i := range len(chroma) / 2 {
				var cb, cr byte
				if f.raw == vision.RawYUYV {
					cb, cr = data[4*i+1], data[4*i+3]
				} else {
					cb, cr = data[32*16+2*i], data[32*16+2*i+1]
				}
				Expect(chroma[i]).To(Equal(cb))
				Expect(chroma[len(chroma)/2+i]).To(Equal(cr))
			}
			// On the raster both are the same screen, so judging early and judging the
			// file see the same.
			n := vision.Normalizer{W: 16, H: 16}
			defer n.Close()
			Expect(onStillRaster(&n, &p)).To(Equal(onStillRaster(&n, &q)))
		}
	})

	It("have a format and a size", func() {
		_, err := vision.NewStill("gif", image.Pt(2, 2))
		Expect(err).To(MatchError(ContainSubstring(`"gif"`)))
		_, err = vision.NewStill(vision.RawNV12, image.Pt(3, 2))
		Expect(err).To(MatchError(vision.ErrSize))
		Expect(vision.RawMJPEG.Bytes(image.Pt(4, 4))).To(BeZero())
		Expect(vision.RawYUYV.Bytes(image.Pt(-4, 4))).To(BeZero())
		_, err = vision.JPEGSize([]byte("text"))
		Expect(err).To(MatchError(vision.ErrNotJPEG))
	})
})

func onStillRaster(n *vision.Normalizer, p *vision.Picture) screen.Screen {
	GinkgoHelper()
	s := screen.New(n.W, n.H)
	Expect(n.Picture(p, vision.AllLines, s)).To(Succeed())
	return *s
}
