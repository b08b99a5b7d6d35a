package checks_test

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"os"
	"path/filepath"
	"sync"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/checks"
	"latchproof/specs"
	"latchproof/vision"
	"latchproof/vision/screen"
)

var _ = Describe("shows and hides", func() {
	var (
		f   folder
		pic *screen.Screen
	)
	gate := image.Rect(40, 176, 56, 192)
	BeforeEach(func() {
		f, pic = newFolder(), scene(1)
		tpl, err := pic.Crop(gate)
		Expect(err).NotTo(HaveOccurred())
		f.save("gate.png", tpl)
	})
	// moved is the scene of another seed with the gate put at x, y.
	moved := func(x, y int) *screen.Screen {
		s := scene(2)
		for dy := range 16 {
			copy(s.Y[(y+dy)*256+x:][:16], pic.Y[(176+dy)*256+40:])
		}
		return s
	}
	look := func(c checks.Check, s *screen.Screen) checks.Sight {
		sight, err := c.Look(s)
		ExpectWithOffset(1, err).NotTo(HaveOccurred())
		return sight
	}

	It("finds a template anywhere, to the pixel", func() {
		c := f.good("shows: {template: gate}")
		for _, at := range []image.Point{{40, 176}, {0, 0}, {240, 224}, {101, 33}} {
			sight := look(c, moved(at.X, at.Y))
			Expect(sight).To(Equal(checks.Sight{
				Holds: true, Found: true, Score: 1, Threshold: 0.9, By: "default", At: at, Size: image.Pt(16, 16),
				Why:  "score 1.000 at " + pt(at) + ", threshold 0.900",
				Seen: "gate at " + pt(at),
			}))
		}
		sight := look(c, scene(2))
		Expect(sight.Holds).To(BeFalse())
		Expect(sight.Found).To(BeFalse())
		Expect(sight.Seen).To(BeEmpty())
		Expect(sight.Why).To(MatchRegexp(`^best score on the screen is 0\.[0-8]\d\d at \(\d+, \d+\), below 0\.900$`))
	})

	It("keeps to the place, by the Chebyshev distance", func() {
		c := f.good("shows: {template: gate.png, near: [100, 100], within: 3}")
		for _, x := range []int{96, 97, 100, 103, 104} {
			for _, y := range []int{96, 97, 100, 103, 104} {
				inside := x >= 97 && x <= 103 && y >= 97 && y <= 103
				sight := look(c, moved(x, y))
				Expect(sight.Holds).To(Equal(inside), "%d, %d", x, y)
				if inside {
					Expect(sight.At).To(Equal(image.Pt(x, y)))
				}
			}
		}
	})

	It("takes exactly the place when within is not given", func() {
		c := f.good("shows: {template: gate, near: [100, 100]}")
		Expect(look(c, moved(100, 100)).Holds).To(BeTrue())
		sight := look(c, moved(101, 100))
		Expect(sight.Holds).To(BeFalse())
		Expect(sight.At).To(Equal(image.Pt(100, 100)))
		Expect(sight.Why).To(MatchRegexp(`^best score at \(100, 100\) is -?0\.\d\d\d at \(100, 100\), below 0\.900$`))
	})

	It("explains where the template stands instead", func() {
		c := f.good("shows: {template: gate, near: [100, 100], within: 2}")
		sight, err := c.Explain(moved(112, 95))
		Expect(err).NotTo(HaveOccurred())
		Expect(sight.Holds).To(BeFalse())
		Expect(sight.Found).To(BeFalse())
		Expect(sight.Searched).To(BeTrue())
		Expect(sight.Best).To(Equal(1.0))
		Expect(sight.BestAt).To(Equal(image.Pt(112, 95)))
		Expect(sight.Seen).To(Equal("gate at (112, 95)"))
		Expect(sight.Why).To(MatchRegexp(`^best score within 2 px of \(100, 100\) is -?0\.\d\d\d at \(\d+, \d+\), below 0\.900; best on the screen is 1\.000 at \(112, 95\), 12 px from \(100, 100\)$`))

		sight, err = c.Explain(moved(100, 100))
		Expect(err).NotTo(HaveOccurred())
		Expect(sight.Holds).To(BeTrue())
		Expect(sight.Searched).To(BeFalse())

		c = f.good("shows: {template: gate}")
		sight, err = c.Explain(scene(2))
		Expect(err).NotTo(HaveOccurred())
		Expect(sight.BestAt).To(Equal(sight.At))
		Expect(sight.Best).To(Equal(sight.Score))

		// The best place of all is the one looked at, and not good enough.
		c = f.good("shows: {template: gate, near: [100, 100], score: 1}")
		s := moved(100, 100)
		s.Y[100*256+100] ^= 16
		sight, err = c.Explain(s)
		Expect(err).NotTo(HaveOccurred())
		Expect(sight.Holds).To(BeFalse())
		Expect(sight.BestAt).To(Equal(image.Pt(100, 100)))
		Expect(sight.Why).To(HaveSuffix("; no place on the screen is better"))
	})

	It("hides exactly when shows does not", func() {
		for _, keys := range []string{"template: gate", "template: gate, near: [100, 100], within: 3", "template: gate, score: 0.5", "template: gate, score: 1"} {
			shows, hides := f.good("shows: {"+keys+"}"), f.good("hides: {"+keys+"}")
			Expect(shows.Kind()).To(Equal("shows"))
			Expect(hides.Kind()).To(Equal("hides"))
			for _, s := range []*screen.Screen{moved(100, 100), moved(104, 100), pic, scene(2), screen.New(256, 240)} {
				a, b := look(shows, s), look(hides, s)
				Expect(a.Holds).NotTo(Equal(b.Holds), keys)
				a.Holds, b.Holds = false, false
				Expect(a).To(Equal(b))
			}
		}
		sight := look(f.good("hides: {template: gate}"), moved(9, 8))
		Expect(sight.Holds).To(BeFalse())
		Expect(sight.Seen).To(Equal("gate at (9, 8)"))
	})

	It("counts a score at the threshold as found", func() {
		s := moved(100, 100)
		for i := range 5 {
			s.Y[(100+i)*256+100+i] ^= 64
		}
		score := look(f.good("shows: {template: gate, near: [100, 100]}"), s).Score
		Expect(score).To(And(BeNumerically(">", 0.5), BeNumerically("<", 1)))
		tpl, err := vision.LoadTemplate(filepath.Join(string(f), "gate.png"))
		Expect(err).NotTo(HaveOccurred())
		at := &checks.Place{Near: image.Pt(100, 100)}
		Expect(look(checks.NewShows(tpl, at, score), s).Holds).To(BeTrue())
		Expect(look(checks.NewHides(tpl, at, score), s).Holds).To(BeFalse())
		above := checks.NewShows(tpl, at, score*(1+1e-12))
		Expect(look(above, s).Holds).To(BeFalse())
		// The two numbers are told apart in the message.
		Expect(look(above, s).Why).NotTo(MatchRegexp(`is (\S+) at .*, below (\S+)$` + "x"))
		Expect(look(above, s).Why).To(MatchRegexp(`is \d\.\d{9,} at \(100, 100\), below \d\.\d{9,}$`))
	})

	It("serves without a spec", func() {
		tpl, err := vision.LoadTemplate(filepath.Join(string(f), "gate.png"))
		Expect(err).NotTo(HaveOccurred())
		c := checks.NewShows(tpl, nil, checks.DefaultScore)
		Expect(c.Prepare()).To(Succeed())
		sight := look(c, pic)
		Expect(sight.At).To(Equal(gate.Min))
		small, err := pic.Crop(image.Rect(32, 168, 96, 232))
		Expect(err).NotTo(HaveOccurred())
		Expect(look(c, small).At).To(Equal(image.Pt(8, 8)))
		_, err = checks.NewShows(tpl, &checks.Place{Near: image.Pt(300, 0)}, 0.9).Look(pic)
		Expect(err).To(MatchError(vision.ErrOutside))
	})

	It("describes itself", func() {
		Expect(f.good("shows: {template: gate}").Describe()).To(Equal("shows gate anywhere with a score of 0.9 or more (lower in noise)"))
		Expect(f.good("shows: {template: gate, near: [1, 2]}").Describe()).To(Equal("shows gate at (1, 2) with a score of 0.9 or more (lower in noise)"))
		Expect(f.good("hides: {template: gate, near: [1, 2], within: 3, score: 0.75}").Describe()).To(Equal("hides gate within 3 px of (1, 2): every score below 0.75"))
		Expect(f.good("hides: {template: gate}").Templates()).To(Equal([]string{"gate.png"}))
	})

	It("tells a wrong raster and a check that was never loaded from a verdict", func() {
		_, err := f.good("shows: {template: gate}").Look(screen.New(255, 240))
		Expect(err).To(MatchError(checks.ErrRaster))
		s, err := specs.Parse("a", []byte(head+"  - {name: n, at: 1, shows: {template: gate}}\n"), checks.All)
		Expect(err).NotTo(HaveOccurred())
		c := s.Checkpoints[0].Check.(checks.Check)
		_, err = c.Look(pic)
		Expect(err).To(MatchError(checks.ErrNotPrepared))
		Expect(c.Prepare()).To(MatchError(checks.ErrNotPrepared))
	})

	It("may be used by several goroutines at once", func() {
		c := f.good("shows: {template: gate}")
		screens := []*screen.Screen{moved(3, 4), moved(50, 60)}
		var wg sync.WaitGroup
		sights := make([]checks.Sight, 8)
		for i := range sights {
			wg.Go(func() { sights[i], _ = c.Look(screens[i%2]) })
		}
		wg.Wait()
		for i, sight := range sights {
			Expect(sight.At).To(Equal([]image.Point{{3, 4}, {50, 60}}[i%2]))
		}
	})

	Describe("templates that cannot be used", func() {
		DescribeTable("are problems of the spec", func(data func() []byte, want string) {
			f.put("t.png", data())
			_, bad := f.load("shows: {template: t}")
			Expect(bad).To(Equal([]string{"a.spec.yaml:6:40: checkpoints[0].shows.template: t.png: " + want}))
		},
			Entry("flat", func() []byte { return png(screen.New(8, 8)) }, "flat template: all its pixels have the same luma"),
			Entry("one pixel", func() []byte { return png(screen.New(1, 1)) }, "template too small: each side needs 2 pixels, and 4 pixels must be used: it is 1x1 with 1 used"),
			Entry("too wide", func() []byte { return png(screen.New(257, 8)) }, "template larger than the screen: 257x8 on 256x240"),
			Entry("too high", func() []byte { return png(screen.New(8, 241)) }, "template larger than the screen: 8x241 on 256x240"),
			Entry("no PNG", func() []byte { return []byte("no picture at all") }, "not a usable PNG picture: png: invalid format: not a PNG file"),
			Entry("empty", func() []byte { return nil }, "not a usable PNG picture: unexpected EOF"),
			Entry("cut short", func() []byte { p := png(scene(1)); return p[:len(p)/2] }, "not a usable PNG picture: png: invalid format: not enough pixel data"),
			Entry("bomb", func() []byte { return header(60000, 60000) }, "template larger than the screen: 60000x60000 on 256x240"),
			Entry("big", func() []byte { return make([]byte, 4<<20+1) }, "file too big: more than 4194304 bytes"),
		)

		It("are missing files, folders and ways out too", func() {
			_, bad := f.load("shows: {template: art/none}")
			Expect(bad).To(Equal([]string{"a.spec.yaml:6:40: checkpoints[0].shows.template: art/none.png: no such file or directory"}))
			Expect(os.Mkdir(filepath.Join(string(f), "d.png"), 0o755)).To(Succeed())
			_, bad = f.load("shows: {template: d.png}")
			Expect(bad).To(Equal([]string{"a.spec.yaml:6:40: checkpoints[0].shows.template: d.png: not a regular file"}))
			_, bad = f.load("shows: {template: ../gate.png}")
			Expect(bad).To(Equal([]string{"a.spec.yaml:6:40: checkpoints[0].shows.template: \"../gate.png\" can leave the spec's folder; name a file inside it without `..`"}))
			other := newFolder()
			other.save("out.png", pic)
			Expect(os.Symlink(filepath.Join(string(other), "out.png"), filepath.Join(string(f), "l.png"))).To(Succeed())
			_, bad = f.load("shows: {template: l}")
			Expect(bad).To(Equal([]string{"a.spec.yaml:6:40: checkpoints[0].shows.template: l.png: path escapes from parent"}))
		})

		It("are told apart by errors.Is", func() {
			f.save("t.png", screen.New(8, 8))
			f.put("a.spec.yaml", []byte(head+"  - {name: n, at: 1, shows: {template: t}}\n"))
			_, err := specs.Load(filepath.Join(string(f), "a.spec.yaml"), checks.All)
			Expect(err).To(MatchError(vision.ErrFlat))
			Expect(err).NotTo(MatchError(vision.ErrTooSmall))
		})

		It("are those that fit nowhere near", func() {
			_, bad := f.load("shows: {template: gate, near: [241, 10]}")
			Expect(bad).To(Equal([]string{"a.spec.yaml:6:52: checkpoints[0].shows.near: gate.png is 16x16 and cannot stand within 0 px of (241, 10) on a raster of 256x240"}))
			_, bad = f.load("shows: {template: gate, near: [241, 10], within: 1}")
			Expect(bad).To(BeEmpty())
		})

		It("may be exactly as large as the raster", func() {
			f.save("all.png", pic)
			Expect(look(f.good("shows: {template: all}"), pic).Score).To(Equal(1.0))
		})

		It("are all reported at once, with those of the anchor", func() {
			f.save("flat.png", screen.New(8, 8))
			f.put("a.spec.yaml", []byte(head+"  - {name: a, at: 1, shows: {template: flat}}\n  - {name: b, at: jump, hides: {template: none}}\nanchor: {frame: 1, shows: {template: flat}}\n"))
			_, err := specs.Load(filepath.Join(string(f), "a.spec.yaml"), checks.All)
			Expect(err.(specs.ErrorList)).To(HaveLen(4))
		})
	})

	It("uses the alpha channel as a mask", func() {
		// The middle of the template is transparent: what stands behind does not matter.
		tpl, err := pic.Crop(gate)
		Expect(err).NotTo(HaveOccurred())
		f.put("ring.png", withHole(tpl))
		s := moved(100, 100)
		for y := 104; y < 112; y++ {
			for x := 104; x < 112; x++ {
				s.Y[y*256+x] = 255 - s.Y[y*256+x]
			}
		}
		sight := look(f.good("shows: {template: ring}"), s)
		Expect(sight.At).To(Equal(image.Pt(100, 100)))
		Expect(sight.Score).To(Equal(1.0))
		Expect(look(f.good("shows: {template: gate}"), s).Holds).To(BeFalse())
	})
})

func png(s *screen.Screen) []byte {
	var b bytes.Buffer
	Expect(s.WritePNG(&b)).To(Succeed())
	return b.Bytes()
}

// header is the start of a PNG of the size given: signature and IHDR chunk, as
// in the PNG specification (W3C, third edition), sections 5.2 and 11.2.1.
func header(w, h uint32) []byte {
	chunk := []byte("IHDR")
	chunk = binary.BigEndian.AppendUint32(chunk, w)
	chunk = binary.BigEndian.AppendUint32(chunk, h)
	chunk = append(chunk, 8, 2, 0, 0, 0)
	b := binary.BigEndian.AppendUint32([]byte("\x89PNG\r\n\x1a\n"), 13)
	return binary.BigEndian.AppendUint32(append(b, chunk...), crc32.ChecksumIEEE(chunk))
}
