package vision_test

import (
	"encoding/json"
	"image"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/vision"
	"latchproof/vision/screen"
)

// grey makes a screen from rows of luma.
func grey(rows [][]int) *screen.Screen {
	s := screen.New(len(rows[0]), len(rows))
	for y, row := range rows {
		for x, v := range row {
			s.Y[y*s.W+x] = byte(v)
		}
	}
	return s
}

func cut(s *screen.Screen, r image.Rectangle) *screen.Screen {
	c, err := s.Crop(r)
	ExpectWithOffset(1, err).NotTo(HaveOccurred())
	return c
}

func template(s *screen.Screen, alpha []byte) *vision.Template {
	t, err := vision.NewTemplate(s, alpha)
	ExpectWithOffset(1, err).NotTo(HaveOccurred())
	return t
}

var _ = Describe("the score", func() {
	// The integer example: 6x6 picture (7r²+5c²+3rc+11r+2c+1) mod 32. N and B
	// of score = N/√(A·B) were worked out by hand with whole numbers from the
	// formula in the OpenCV documentation (TemplateMatchModes,
	// TM_CCOEFF_NORMED); numpy 1.24.2 and scikit-image 0.19.3 agree to 2e-15.
	picture := func(change func(int) int) *screen.Screen {
		rows := make([][]int, 6)
		for r := range rows {
			rows[r] = make([]int, 6)
			for c := range rows[r] {
				rows[r][c] = change((7*r*r + 5*c*c + 3*r*c + 11*r + 2*c + 1) % 32)
			}
		}
		return grey(rows)
	}
	same := func(v int) int { return v }
	const a = 3764
	n := []int{2406, 2272, -934, -172, 896, -2278, 692, 590, -1254, 3764, -2066, -2328, 2164, -1042, 2184, 2050}
	b := []int{7758, 6020, 3638, 4964, 6632, 5054, 4496, 4958, 6462, 3764, 5606, 7956, 7568, 4070, 6264, 7814}

	It("is the hand-worked integer ratio at every place", func() {
		s := picture(same)
		t := template(cut(s, image.Rect(1, 2, 4, 5)), nil)
		search, err := t.Search(s)
		Expect(err).NotTo(HaveOccurred())
		for i := range n {
			want := float64(n[i]) / math.Sqrt(float64(a)*float64(b[i]))
			got, err := t.ScoreAt(s, image.Pt(i%4, i/4))
			Expect(err).NotTo(HaveOccurred())
			Expect(got).To(BeNumerically("~", want, 1e-15))
			// OpenCV computes in 32-bit floats.
			Expect(search[i]).To(BeNumerically("~", want, 1e-5))
		}
		Expect(t.ScoreAt(s, image.Pt(0, 0))).To(BeNumerically("~", 0.445241798123, 1e-12))
		Expect(t.ScoreAt(s, image.Pt(1, 1))).To(BeNumerically("~", -0.522289498335, 1e-12))
	})

	It("is the published value for the cross template", func() {
		// Same sources; template 0 1 0 / 1 4 1 / 0 1 0.
		s := picture(same)
		t := template(grey([][]int{{0, 1, 0}, {1, 4, 1}, {0, 1, 0}}), nil)
		for i, want := range []float64{
			0.328890032522, 0.181893151521, -0.160093241206, 0.115967899544,
			-0.337474107667, 0.114930701828, 0.121854206584, -0.390309799490,
			-0.194042477181, -0.157390870472, 0.188489883764, 0.324771725105,
			0.162227334175, -0.151358613253, -0.197085381603, -0.344515007971,
		} {
			Expect(t.ScoreAt(s, image.Pt(i%4, i/4))).To(BeNumerically("~", want, 1e-12))
		}
	})

	It("does not change with brightness and contrast, and turns with the negative", func() {
		s := picture(same)
		t := template(cut(s, image.Rect(1, 2, 4, 5)), nil)
		bright := picture(func(v int) int { return 3*v + 7 })
		negative := picture(func(v int) int { return 31 - v })
		for i := range n {
			p := image.Pt(i%4, i/4)
			want, err := t.ScoreAt(s, p)
			Expect(err).NotTo(HaveOccurred())
			Expect(t.ScoreAt(bright, p)).To(BeNumerically("~", want, 1e-15))
			Expect(t.ScoreAt(negative, p)).To(BeNumerically("~", -want, 1e-15))
		}
		Expect(t.ScoreAt(s, image.Pt(1, 2))).To(Equal(1.0))
		Expect(t.ScoreAt(negative, image.Pt(1, 2))).To(Equal(-1.0))
	})

	It("equals the recorded scores of scikit-image", func() {
		// testdata/score_skimage.py says how the file is made.
		src, err := os.ReadFile("testdata/score_skimage.json")
		Expect(err).NotTo(HaveOccurred())
		var record struct {
			Version string
			Cases   []struct {
				W, H, X, Y, TW, TH int
				Scores             [][]float64
			}
		}
		Expect(json.Unmarshal(src, &record)).To(Succeed())
		Expect(record.Version).To(Equal("0.19.3"))
		Expect(record.Cases).To(HaveLen(3))
		for _, c := range record.Cases {
			s := screen.New(c.W, c.H)
			for i := range s.Y {
				row, col := i/c.W, i%c.W
				s.Y[i] = byte((row*7919 + col*104729 + row*col*31) % 1009 % 256)
			}
			t := template(cut(s, image.Rect(c.X, c.Y, c.X+c.TW, c.Y+c.TH)), nil)
			compare(t, s, c.Scores)
			m, err := t.Match(s, image.Rectangle{})
			Expect(err).NotTo(HaveOccurred())
			Expect(m.At).To(Equal(image.Pt(c.X, c.Y)))
			Expect(m.Score).To(Equal(1.0))
		}
	})

	It("equals what scikit-image says now about a noisy picture", func() {
		const python = "/usr/bin/python3"
		if out, err := exec.Command(python, "-c", "import skimage").CombinedOutput(); err != nil {
			Skip("scikit-image is not installed: " + string(out))
		}
		dir := GinkgoT().TempDir()
		rng := rand.New(rand.NewPCG(5, 5))
		s, sp := lights(96, 80, 4), sprite(4)
		put(s, sp, nil, image.Pt(33, 41))
		s = noisy(s, 8, rng)
		for i := range s.Cb { // greys, so that both sides read the same levels
			s.Cb[i], s.Cr[i] = 128, 128
		}
		pic, tpl := filepath.Join(dir, "picture.png"), filepath.Join(dir, "template.png")
		Expect(s.SavePNG(pic)).To(Succeed())
		Expect(sp.SavePNG(tpl)).To(Succeed())
		out, err := exec.Command(python, "testdata/score_skimage.py", "match", pic, tpl).Output()
		Expect(err).NotTo(HaveOccurred())
		var live struct{ Scores [][]float64 }
		Expect(json.Unmarshal(out, &live)).To(Succeed())
		t, err := vision.LoadTemplate(tpl)
		Expect(err).NotTo(HaveOccurred())
		compare(t, s, live.Scores)
	})

	It("says 0 over a flat patch, with and without a mask", func() {
		// All three tools named above give 0 there; the formula is 0/0.
		sp := sprite(7)
		alpha := disc(16, 16)
		for _, level := range []byte{0, 1, 127, 128, 200, 255} {
			s := screen.New(64, 48)
			for i := range s.Y {
				s.Y[i] = level
			}
			put(s, sp, nil, image.Pt(40, 20)) // so that the picture is not all flat
			for _, t := range []*vision.Template{template(sp, nil), template(sp, alpha)} {
				Expect(t.ScoreAt(s, image.Pt(3, 5))).To(Equal(0.0))
				search, err := t.Search(s)
				Expect(err).NotTo(HaveOccurred())
				Expect(search[5*49+3]).To(Equal(0.0))
				for _, v := range search {
					Expect(v).To(BeNumerically("~", 0, 1+1e-5))
				}
			}
		}
	})

	It("is the formula over the used pixels when there is a mask", func() {
		rng := rand.New(rand.NewPCG(8, 8))
		sp, alpha := sprite(8), disc(16, 16)
		s := noisy(lights(48, 40, 8), 8, rng)
		t := template(sp, alpha)
		for y := range 25 {
			for x := range 33 {
				// Two passes in floating point, as the definition reads.
				var tm, im, n float64
				each := func(f func(tv, iv float64)) {
					for j := range 16 {
						for i := range 16 {
							if alpha[j*16+i] >= 128 {
								f(float64(sp.Y[j*16+i]), float64(s.Y[(y+j)*48+x+i]))
							}
						}
					}
				}
				each(func(tv, iv float64) { tm, im, n = tm+tv, im+iv, n+1 })
				tm, im = tm/n, im/n
				var ti, tt, ii float64
				each(func(tv, iv float64) {
					ti += (tv - tm) * (iv - im)
					tt += (tv - tm) * (tv - tm)
					ii += (iv - im) * (iv - im)
				})
				Expect(t.ScoreAt(s, image.Pt(x, y))).To(BeNumerically("~", ti/math.Sqrt(tt*ii), 1e-12))
			}
		}
	})
})

// compare holds the integer score and the search to outside scores.
func compare(t *vision.Template, s *screen.Screen, want [][]float64) {
	search, err := t.Search(s)
	ExpectWithOffset(1, err).NotTo(HaveOccurred())
	ExpectWithOffset(1, search).To(HaveLen(len(want) * len(want[0])))
	for y, row := range want {
		for x, v := range row {
			got, err := t.ScoreAt(s, image.Pt(x, y))
			ExpectWithOffset(1, err).NotTo(HaveOccurred())
			ExpectWithOffset(1, got).To(BeNumerically("~", v, 1e-11))
			ExpectWithOffset(1, search[y*len(row)+x]).To(BeNumerically("~", v, 1e-5))
		}
	}
}

// disc is an alpha plane that uses an ellipse in the middle.
func disc(w, h int) []byte {
	alpha := make([]byte, w*h)
	for y := range h {
		for x := range w {
			u, v := float64(2*x+1-w)/float64(w), float64(2*y+1-h)/float64(h)
			if u*u+v*v < 0.9 {
				alpha[y*w+x] = 255
			}
		}
	}
	return alpha
}
