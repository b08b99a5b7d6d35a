package lockstep_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math/big"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/lockstep"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

func random(r *rand.Rand, w, h int) *screen.Screen {
	s := screen.New(w, h)
	for i := range s.Y {
		s.Y[i], s.Cb[i], s.Cr[i] = byte(r.Uint32()), byte(r.Uint32()), byte(r.Uint32())
	}
	return s
}

// exactMean is the mean over the pixels of a square that lie on the plane, in
// quarter levels, rounded half up, in exact rationals; 0 over none.
func exactMean(plane []byte, w, h, x0, y0, side int) uint16 {
	sum, n := new(big.Rat), int64(0)
	for y := y0; y < min(y0+side, h); y++ {
		for x := x0; x < min(x0+side, w); x++ {
			sum.Add(sum, big.NewRat(int64(plane[y*w+x]), 1))
			n++
		}
	}
	if n == 0 {
		return 0
	}
	sum.Mul(sum, big.NewRat(4, n)).Add(sum, big.NewRat(1, 2))
	return uint16(new(big.Int).Div(sum.Num(), sum.Denom()).Int64())
}

var _ = Describe("features", func() {
	It("are area means, also where blocks stick out of the raster", func() {
		r := rand.New(rand.NewPCG(1, 2))
		for _, size := range [][2]int{{16, 8}, {256, 240}, {13, 11}, {5, 3}, {1, 1}, {9, 17}, {12, 20}} {
			s := random(r, size[0], size[1])
			f := lockstep.Extract(s, nil)
			l := lockstep.Layout{W: s.W, H: s.H}
			Expect(f).To(HaveLen(l.Cols() * l.Rows() * 6))
			for b := range l.Blocks() {
				x, y := b%l.Cols()*8, b/l.Cols()*8
				want := lockstep.Features{
					exactMean(s.Y, s.W, s.H, x, y, 4), exactMean(s.Y, s.W, s.H, x+4, y, 4),
					exactMean(s.Y, s.W, s.H, x, y+4, 4), exactMean(s.Y, s.W, s.H, x+4, y+4, 4),
					exactMean(s.Cb, s.W, s.H, x, y, 8), exactMean(s.Cr, s.W, s.H, x, y, 8),
				}
				Expect(f[b*6:b*6+6]).To(Equal(want), "%v block %d", size, b)
			}
		}
	})

	// scikit-image 0.19.3, /usr/bin/python3:
	//   y,x = np.mgrid[0:16,0:24]; v = ((37*x*x+91*y+13*x*y)%256).astype(float)
	//   downscale_local_mean(v, (4,4)); downscale_local_mean((v*7)%256, (8,8))
	It("agree with scikit-image's downscale_local_mean", func() {
		s := screen.New(24, 16)
		for i := range s.Y {
			x, y := i%24, i/24
			s.Y[i] = byte((37*x*x + 91*y + 13*x*y) % 256)
			s.Cb[i] = s.Y[i] * 7
		}
		luma := [4][6]float64{{119.25, 129.25, 91.25, 149.25, 111.25, 137.25}, {145.25, 123.25, 149.25, 143.25, 121.25, 115.25}, {139.25, 133.25, 127.25, 153.25, 147.25, 125.25}, {133.25, 111.25, 121.25, 99.25, 109.25, 103.25}}
		chroma := [2][3]float64{{124.75, 116.75, 128.75}, {120.75, 132.75, 128.75}}
		f := lockstep.Extract(s, nil)
		for by := range 2 {
			for bx := range 3 {
				b := f[(by*3+bx)*6:]
				for k := range 4 {
					Expect(float64(b[k]) * lockstep.Unit).To(BeNumerically("~", luma[by*2+k/2][bx*2+k%2], lockstep.Unit/2))
				}
				Expect(float64(b[4]) * lockstep.Unit).To(BeNumerically("~", chroma[by][bx], lockstep.Unit/2))
			}
		}
	})
})

// write makes a trace file of n frames, every seventh unseen, every ninth
// unsure, and gives the pictures too.
func write(n int) ([]byte, *lockstep.Memory) {
	r := rand.New(rand.NewPCG(uint64(n), 5))
	l := lockstep.Layout{W: 20, H: 18}
	m := lockstep.NewMemory(l)
	var buf bytes.Buffer
	w, err := lockstep.NewTraceWriter(&buf, l)
	if err != nil {
		panic(err)
	}
	for f := range n {
		sight, s := lockstep.Seen, random(r, l.W, l.H)
		switch {
		case f%7 == 3 && f != n-1:
			continue
		case f%7 == 3:
			sight, s = lockstep.Unseen, nil
		case f%9 == 1:
			sight = lockstep.Unsure
		}
		if err := errors.Join(w.Add(console.Frame(f), sight, s), m.Add(console.Frame(f), sight, s)); err != nil {
			panic(err)
		}
	}
	if err := w.Close(); err != nil {
		panic(err)
	}
	return buf.Bytes(), m
}

// same walks two traces from a frame on.
func same(a, b lockstep.Trace, from console.Frame) error {
	ca, _ := a.Open()
	cb, _ := b.Open()
	defer ca.Close()
	defer cb.Close()
	if err := errors.Join(ca.Seek(from), cb.Seek(from)); err != nil {
		return err
	}
	for {
		var pa, pb lockstep.Picture
		ea, eb := ca.Next(&pa), cb.Next(&pb)
		if ea == io.EOF && eb == io.EOF {
			return nil
		}
		if err := errors.Join(ea, eb); err != nil {
			return err
		}
		if pa.Frame != pb.Frame || pa.Sight != pb.Sight || fmt.Sprint(pa.Features) != fmt.Sprint(pb.Features) {
			return fmt.Errorf("frame %d differs", pa.Frame)
		}
	}
}

var _ = Describe("a trace file", func() {
	It("gives back every frame, from any frame on", func() {
		for _, n := range []int{0, 1, 63, 64, 65, 128, 200} {
			src, m := write(n)
			t, err := lockstep.ReadTrace("t", bytes.NewReader(src), int64(len(src)))
			Expect(err).NotTo(HaveOccurred(), "%d frames", n)
			Expect(t.Len()).To(BeEquivalentTo(n))
			Expect(t.Layout()).To(Equal(m.Layout()))
			for _, from := range []console.Frame{0, 1, 63, 64, 130, 500} {
				Expect(same(t, m, from)).To(Succeed(), "%d frames from %d", n, from)
			}
		}
	})

	It("is opened from disk", func() {
		src, m := write(100)
		path := filepath.Join(GinkgoT().TempDir(), "trace.lpt")
		Expect(os.WriteFile(path, src, 0o666)).To(Succeed())
		t, err := lockstep.OpenTrace(path)
		Expect(err).NotTo(HaveOccurred())
		Expect(same(t, m, 0)).To(Succeed())
		Expect(t.Close()).To(Succeed())
		_, err = lockstep.OpenTrace(path + "x")
		Expect(err).To(MatchError(os.ErrNotExist))
	})

	It("is known to be damaged by any changed byte and any cut", func() {
		src, m := write(70)
		read := func(b []byte) error {
			t, err := lockstep.ReadTrace("t", bytes.NewReader(b), int64(len(b)))
			if err != nil {
				return err
			}
			return same(t, m, 0)
		}
		Expect(read(src)).To(Succeed())
		r := rand.New(rand.NewPCG(2, 2))
		for i := 0; i < len(src); i += 1 + r.IntN(1+len(src)/800) {
			bad := bytes.Clone(src)
			bad[i] ^= 1 << r.IntN(8)
			Expect(read(bad)).To(MatchError(lockstep.ErrTrace), "byte %d", i)
			Expect(read(src[:i])).To(MatchError(lockstep.ErrTrace), "cut at %d", i)
		}
		Expect(read(append(bytes.Clone(src), 0))).To(MatchError(lockstep.ErrTrace))
		var e *lockstep.TraceError
		Expect(errors.As(read(src[:len(src)-1]), &e)).To(BeTrue())
		Expect(e.Error()).To(HavePrefix("t: byte "))
	})

	It("refuses frames out of order, pictures of another size, and rasters too large", func() {
		var buf bytes.Buffer
		w, err := lockstep.NewTraceWriter(&buf, lockstep.Layout{W: 8, H: 8})
		Expect(err).NotTo(HaveOccurred())
		Expect(w.Add(3, lockstep.Seen, screen.New(8, 8))).To(Succeed())
		Expect(w.Add(3, lockstep.Seen, screen.New(8, 8))).To(MatchError("frame 3 is given after frame 3"))
		Expect(w.Add(4, lockstep.Seen, screen.New(8, 9))).To(MatchError(lockstep.ErrLayout))
		Expect(w.Add(4, lockstep.Seen, nil)).To(MatchError("frame 4 is seen but has no picture"))
		_, err = lockstep.NewTraceWriter(&buf, lockstep.Layout{W: 1024, H: 1024})
		Expect(err).NotTo(HaveOccurred())
		_, err = lockstep.NewTraceWriter(&buf, lockstep.Layout{W: 1025, H: 8})
		Expect(err).To(HaveOccurred())
	})
})

func FuzzTrace(f *testing.F) {
	for _, n := range []int{0, 3, 70} {
		src, _ := write(n)
		f.Add(src)
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		tr, err := lockstep.ReadTrace("t", bytes.NewReader(src), int64(len(src)))
		if err != nil {
			return
		}
		c, _ := tr.Open()
		defer c.Close()
		var p lockstep.Picture
		for c.Next(&p) == nil {
			if p.Sight != lockstep.Unseen && len(p.Features) != tr.Layout().Len() {
				t.Fatalf("frame %d has %d features", p.Frame, len(p.Features))
			}
		}
	})
}

func BenchmarkExtract(b *testing.B) {
	s := random(rand.New(rand.NewPCG(1, 1)), 256, 240)
	var f lockstep.Features
	b.SetBytes(int64(len(s.Y) * 3))
	for b.Loop() {
		f = lockstep.Extract(s, f)
	}
}

// BenchmarkCompare compares two runs of 64 frames on a raster of 256x240.
func BenchmarkCompare(b *testing.B) {
	s := newScene(1, 256, 240)
	runs := [2]lockstep.Run{}
	for i := range runs {
		runs[i] = lockstep.Run{Name: fmt.Sprint(i), Trace: film(s, &card{sigma: 4, gain: 1, zoom: 1, r: rand.New(rand.NewPCG(uint64(i), 1))}, 64, 64, nothing)}
	}
	for b.Loop() {
		if _, err := lockstep.Compare(runs[0], runs[1]); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/64, "ns/frame")
}

// BenchmarkTrace writes 64 frames and says how many bytes one takes.
func BenchmarkTrace(b *testing.B) {
	for _, sigma := range []float64{0, 2, 8, 20} {
		for _, quality := range []int{0, 75} {
			b.Run(fmt.Sprintf("sigma%v/jpeg%d", sigma, quality), func(b *testing.B) {
				s := newScene(1, 256, 240)
				k := &card{sigma: sigma, quality: quality, gain: 1, zoom: 2, r: rand.New(rand.NewPCG(1, 1))}
				var shots []*screen.Screen
				for f := range 64 {
					shots = append(shots, k.shoot(s.draw(f, nothing), f))
				}
				var buf bytes.Buffer
				for b.Loop() {
					buf.Reset()
					w, _ := lockstep.NewTraceWriter(&buf, lockstep.Layout{W: 256, H: 240})
					for f, p := range shots {
						if err := w.Add(console.Frame(f), lockstep.Seen, p); err != nil {
							b.Fatal(err)
						}
					}
					if err := w.Close(); err != nil {
						b.Fatal(err)
					}
				}
				b.ReportMetric(float64(buf.Len())/64, "bytes/frame")
			})
		}
	}
}

// BenchmarkCompareFiles compares two traces on disk of 1024 frames.
func BenchmarkCompareFiles(b *testing.B) {
	s := newScene(1, 256, 240)
	var runs [2]lockstep.Run
	for i := range runs {
		k := &card{sigma: 4, gain: 1, zoom: 1, r: rand.New(rand.NewPCG(uint64(i), 1))}
		m := film(s, k, 128, 128, nothing)
		var buf bytes.Buffer
		w, err := lockstep.NewTraceWriter(&buf, m.Layout())
		if err != nil {
			b.Fatal(err)
		}
		var p lockstep.Picture
		for f := range console.Frame(1024) {
			c, _ := m.Open()
			_ = c.Seek(f % 128)
			if err := c.Next(&p); err != nil {
				b.Fatal(err)
			}
			if err := w.AddFeatures(f, lockstep.Seen, p.Features); err != nil {
				b.Fatal(err)
			}
		}
		if err := w.Close(); err != nil {
			b.Fatal(err)
		}
		t, err := lockstep.ReadTrace("t", bytes.NewReader(buf.Bytes()), int64(buf.Len()))
		if err != nil {
			b.Fatal(err)
		}
		runs[i] = lockstep.Run{Name: fmt.Sprint(i), Trace: t}
	}
	for b.Loop() {
		if rep, err := lockstep.Compare(runs[0], runs[1]); err != nil || !rep.Lockstep() {
			b.Fatal(err, rep.Divergence)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/1024, "ns/frame")
}
