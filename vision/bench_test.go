package vision_test

import (
	"errors"
	"fmt"
	"image"
	"io"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"latchproof/vision"
	"latchproof/vision/screen"
)

func BenchmarkNormalise(b *testing.B) {
	for _, size := range []image.Point{{X: 640, Y: 480}, {X: 1280, Y: 720}, {X: 720, Y: 240}, {X: 256, Y: 240}} {
		b.Run(fmt.Sprintf("%dx%d", size.X, size.Y), func(b *testing.B) {
			img := imageOf(size.X, size.Y, project(lights(256, 240, 1), size.X, size.Y, image.Rectangle{Max: size}))
			defer img.Close()
			n := &vision.Normalizer{W: 256, H: 240}
			defer n.Close()
			dst := screen.New(256, 240)
			b.ReportAllocs()
			for b.Loop() {
				if err := n.Screen(img, dst); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkMatch(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 1))
	s := lights(256, 240, 3)
	sp := sprite(1)
	at := image.Pt(101, 77)
	put(s, sp, nil, at)
	s = noisy(s, 8, rng)
	alpha := make([]byte, 256)
	for i := range alpha {
		alpha[i] = 255
	}
	alpha[0], alpha[15], alpha[240], alpha[255] = 0, 0, 0, 0
	for _, mask := range []bool{false, true} {
		a := alpha
		if !mask {
			a = nil
		}
		t, err := vision.NewTemplate(sp, a)
		if err != nil {
			b.Fatal(err)
		}
		for _, within := range []int{0, 1, 4, 16, 24, 32, 48, 300} {
			in := image.Rect(at.X-within, at.Y-within, at.X+within+1, at.Y+within+1)
			b.Run(fmt.Sprintf("masked=%v/within=%d", mask, within), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					m, err := t.Match(s, in)
					if err != nil || m.At != at {
						b.Fatal(m, err)
					}
				}
			})
		}
	}
}

// BenchmarkWriteVideo writes noisy pictures: encoding included, and pictures
// that are JPEG already.
func BenchmarkWriteVideo(b *testing.B) {
	img := imageOf(640, 480, project(noisy(lights(256, 240, 1), 8, rand.New(rand.NewPCG(1, 1))), 640, 480, image.Rect(0, 0, 640, 480)))
	defer img.Close()
	src, err := img.JPEG(vision.JPEGQuality)
	if err != nil {
		b.Fatal(err)
	}
	for name, write := range map[string]func(*vision.Recorder) error{
		"pictures": func(r *vision.Recorder) error { return r.Write(img) },
		"jpeg":     func(r *vision.Recorder) error { return r.WriteJPEG(src) },
	} {
		b.Run(name, func(b *testing.B) {
			r, err := vision.CreateVideo(filepath.Join(b.TempDir(), "bench.mkv"), vision.MJPEG, 640, 480, 60)
			if err != nil {
				b.Fatal(err)
			}
			b.SetBytes(int64(len(src)))
			b.ReportAllocs()
			for b.Loop() {
				if err := write(r); err != nil {
					b.Fatal(err)
				}
			}
			if err := r.Close(); err != nil {
				b.Fatal(err)
			}
		})
	}
}

func BenchmarkReadVideo(b *testing.B) {
	path := filepath.Join(b.TempDir(), "bench.mkv")
	const n = 200
	img := imageOf(640, 480, project(noisy(lights(256, 240, 1), 8, rand.New(rand.NewPCG(1, 1))), 640, 480, image.Rect(0, 0, 640, 480)))
	defer img.Close()
	r, err := vision.CreateVideo(path, vision.MJPEG, 640, 480, 60)
	if err != nil {
		b.Fatal(err)
	}
	for range n {
		if err := r.Write(img); err != nil {
			b.Fatal(err)
		}
	}
	if err := r.Close(); err != nil {
		b.Fatal(err)
	}
	b.ResetTimer()
	for b.Loop() {
		v, err := vision.OpenVideo(path)
		if err != nil {
			b.Fatal(err)
		}
		for {
			if err := v.Next(img); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				b.Fatal(err)
			}
		}
		if v.Count() != n {
			b.Fatal(v.Count())
		}
		v.Close()
	}
	b.ReportMetric(float64(b.N*n)/b.Elapsed().Seconds(), "pictures/s")
}

// BenchmarkPicture brings decoded 4:2:0 pictures to the raster, straight and by
// way of B, G, R.
func BenchmarkPicture(b *testing.B) {
	for _, size := range []image.Point{{X: 640, Y: 480}, {X: 1280, Y: 720}, {X: 720, Y: 480}} {
		path := filepath.Join(b.TempDir(), "p.y4m")
		if err := newRaw(size.X, size.Y, "420mpeg2", 1).write(path, 1); err != nil {
			b.Fatal(err)
		}
		v, err := vision.OpenVideo(path)
		if err != nil {
			b.Fatal(err)
		}
		defer v.Close()
		var p vision.Picture
		if err := v.Read(&p); err != nil {
			b.Fatal(err)
		}
		defer p.Close()
		n := &vision.Normalizer{W: 256, H: 240}
		defer n.Close()
		img, dst := vision.NewImage(), screen.New(256, 240)
		defer img.Close()
		for name, do := range map[string]func() error{
			"planes": func() error { return n.Picture(&p, vision.AllLines, dst) },
			"field":  func() error { return n.Picture(&p, vision.TopLines, dst) },
			"bgr":    func() error { return errors.Join(p.Image(img), n.Screen(img, dst)) },
		} {
			b.Run(fmt.Sprintf("%dx%d/%s", size.X, size.Y, name), func(b *testing.B) {
				for b.Loop() {
					if err := do(); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}
